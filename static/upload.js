// While a large file is sent and read, say so; the form works without.
"use strict";

document.addEventListener("submit", (event) => {
  const told = event.target.querySelector("[data-meanwhile]");
  if (told && !event.defaultPrevented) told.hidden = false;
});
