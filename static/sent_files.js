// Shows how much of a large file has been sent; the form works without.
"use strict";

// Once the style is there, so that nobody sees the next page without it.
function styled(link) {
  if (document.querySelector(`link[href="${link.getAttribute("href")}"]`)) return null;
  return new Promise((done) => {
    link.addEventListener("load", done);
    link.addEventListener("error", done);
    document.head.append(link);
  });
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("[data-sends-file]") || event.defaultPrevented) return;
  event.preventDefault();
  const told = form.querySelector("[data-meanwhile]"), bar = told.querySelector("progress"), words = told.querySelector("span");
  const button = form.querySelector("button");
  told.hidden = false;
  button.disabled = true;
  const request = new XMLHttpRequest();
  request.upload.addEventListener("progress", (sent) => {
    if (!sent.lengthComputable) return;
    bar.max = sent.total;
    bar.value = sent.loaded;
    const share = Math.round((100 * sent.loaded) / sent.total);
    words.textContent = share < 100 ? `${share}% of the file is sent.` : "The file is sent and is being read.";
    if (share === 100) bar.removeAttribute("value");
  });
  request.addEventListener("load", async () => {
    const page = new DOMParser().parseFromString(request.responseText, "text/html");
    // The next page brings what it is styled with and what its own forms need.
    await Promise.all([...page.querySelectorAll("link[rel=stylesheet]")].map(styled));
    for (const script of page.querySelectorAll("head script[src]")) {
      if (document.querySelector(`script[src="${script.getAttribute("src")}"]`)) continue;
      const again = document.createElement("script");
      again.src = script.getAttribute("src");
      document.head.append(again);
    }
    document.querySelector("main").replaceWith(page.querySelector("main"));
    if (window.htmx) window.htmx.process(document.querySelector("main"));
    document.title = page.title;
    history.replaceState(null, "", request.responseURL);
    scrollTo(0, 0);
    const heading = document.querySelector(".notice, h1");
    heading.tabIndex = -1;
    heading.focus();
  });
  request.addEventListener("error", () => {
    button.disabled = false;
    bar.value = 0;
    words.textContent = "The file could not be sent. Try again.";
  });
  request.open("POST", form.action);
  request.send(new FormData(form));
});
