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

// What somebody opened stays open when its piece of the page is swapped.
let opened = [];
document.addEventListener("htmx:oobBeforeSwap", (event) => {
  opened = [...event.detail.target.querySelectorAll("details[id][open]")].map((one) => one.id);
});
document.addEventListener("htmx:oobAfterSwap", () => {
  for (const id of opened) {
    const again = document.getElementById(id);
    if (again) again.open = true;
  }
});

// A page kept on the phone cannot know which light was chosen since.
function lightOfKept() {
  let theme = null;
  try { theme = localStorage.getItem("theme"); } catch { /* a phone that keeps nothing */ }
  if (!theme || !document.querySelector("#kept, .without-signal, #queue:not([data-known])")) return;
  document.documentElement.dataset.theme = theme;
  for (const button of document.querySelectorAll(".themes button")) {
    button.setAttribute("aria-pressed", String(button.value === theme));
  }
}
lightOfKept();

// Day and night at once, and without leaving a half-filled form.
document.addEventListener("submit", (event) => {
  const form = event.target;
  const theme = event.submitter && event.submitter.value;
  if (!form.matches(".themes") || !theme) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  document.documentElement.dataset.theme = theme;
  for (const button of form.querySelectorAll("button")) {
    button.setAttribute("aria-pressed", String(button === event.submitter));
  }
  try { localStorage.setItem("theme", theme); } catch { /* a phone that keeps nothing */ }
  const body = new URLSearchParams({ theme });
  fetch(form.action, { method: "POST", body, redirect: "manual" }).catch(() => {}); // without signal this phone keeps it
}, { capture: true });

// A failure answers with words too; they go where the answer says.
document.addEventListener("htmx:beforeSwap", (event) => {
  if (event.detail.xhr.status >= 500) event.detail.shouldSwap = true;
});
document.addEventListener("htmx:sendError", () => {
  const notice = document.createElement("div");
  notice.className = "notice grave";
  notice.textContent = "No connection. Nothing was sent; what you typed is still here. Try again.";
  document.getElementById("told").replaceChildren(notice);
});

// A request of htmx leaves its form on the page: make it live again.
document.addEventListener("htmx:afterRequest", (event) => {
  const form = event.target.closest ? event.target.closest("form") : null;
  if (!form) return;
  delete form.dataset.sent;
  for (const button of form.querySelectorAll("button")) button.disabled = false;
});
