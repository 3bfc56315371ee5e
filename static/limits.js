// Tells the age under the thumb while it slides; the page works without it.
"use strict";

(() => {
  function follow() {
    const slider = document.getElementById("place");
    const told = document.getElementById("ruler-age");
    if (!slider || !told) return;
    const ages = slider.dataset.ages.split("|");

    slider.addEventListener("input", () => { told.textContent = ages[Number(slider.value)]; });
    slider.addEventListener("pointerup", () => { setTimeout(() => slider.form.requestSubmit()); });
  }

  follow();
  document.addEventListener("chooser", follow); // where a copy without signal brings its own
})();
