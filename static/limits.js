// Tells the age under the thumb while it slides; the page works without it.
"use strict";

(() => {
  const slider = document.getElementById("place");
  const told = document.getElementById("ruler-age");
  if (!slider || !told) return;
  const ages = slider.dataset.ages.split("|");

  slider.addEventListener("input", () => { told.textContent = ages[Number(slider.value)]; });
  slider.addEventListener("pointerup", () => { setTimeout(() => slider.form.requestSubmit()); });
})();
