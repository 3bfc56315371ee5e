// On a narrow screen the drawing is wider than its box: keep the age in hand in sight.
"use strict";

function showAge() {
  const box = document.querySelector(".corridor-box");
  const line = document.querySelector("#age-line .head");
  if (!box || !line || box.scrollWidth <= box.clientWidth) return;
  const at = line.getBoundingClientRect().left - box.getBoundingClientRect().left;
  if (at < 60 || at > box.clientWidth - 30) box.scrollLeft += at - box.clientWidth / 2;
}

document.addEventListener("DOMContentLoaded", showAge);
document.addEventListener("htmx:oobAfterSwap", showAge);
