// Small comforts; every page works without them.
"use strict";

// A form is sent once: a second tap on a slow line would store twice.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.sent) { event.preventDefault(); return; }
  form.dataset.sent = "yes";
  setTimeout(() => {
    for (const button of form.querySelectorAll("button")) button.disabled = true;
  });
});

// Coming back with the browser's back button shows a live form again.
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) {
    delete form.dataset.sent;
    for (const button of form.querySelectorAll("button")) button.disabled = false;
  }
});

// A request of htmx leaves its form on the page: make it live again.
document.addEventListener("htmx:afterRequest", (event) => {
  const form = event.target.closest ? event.target.closest("form") : null;
  if (!form) return;
  delete form.dataset.sent;
  for (const button of form.querySelectorAll("button")) button.disabled = false;
});
