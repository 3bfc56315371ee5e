// Reads a line's curves while its limit is dragged, typed or slid: everything is here already,
// so nothing is asked meanwhile. The form works without.
"use strict";

(() => {
  const section = document.getElementById("curve");
  if (!section) return;
  const curves = JSON.parse(section.dataset.curves);
  const [slide, typed, delay] = ["slide", "limit", "delay"].map((id) => document.getElementById(id));
  const size = { width: +section.dataset.width, noise: +section.dataset.noise, silence: +section.dataset.silence };
  const first = curves.limits[0], last = curves.limits[curves.limits.length - 1];

  const box = section.querySelector(".noise-box");
  const one = (selector) => section.querySelector(selector);
  const place = () => +slide.value;
  const x = (index) => ((curves.limits[index] - first) / (last - first || 1)) * size.width;
  const silent = () => curves.silence[+section.dataset.bound];
  const noiseAt = (d, i) => size.noise * (1 - Math.sqrt(curves.counts[d][i] / (curves.hours || 1) / curves.noiseTop));
  const silenceAt = (d, i) => size.silence * Math.sqrt(silent().seconds[d][i] / (curves.hours || 1) / curves.silenceTop);
  const tell = (name, value) => section.querySelectorAll(`[data-told="${name}"]`).forEach((where) => { if (where.textContent !== String(value)) where.textContent = value; });

  function draw(name, height, base) {
    const d = delay.selectedIndex;
    const points = curves.limits.map((_, i) => `${x(i).toFixed(1)},${height(d, i).toFixed(1)}`).join(" ");
    one(`[data-line="${name}"]`).setAttribute("points", points);
    one(`[data-area="${name}"]`).setAttribute("points", `0,${base} ${points} ${size.width},${base}`);
  }

  function show() {
    const i = place(), d = delay.selectedIndex, words = `${curves.limits[i]} ${slide.dataset.unit}`.trim();
    slide.setAttribute("aria-valuetext", words);
    tell("limit", words);
    tell("delay", `${curves.delays[d]} s`);
    tell("rate", (curves.counts[d][i] / (curves.hours || 1)).toFixed(2));
    tell("count", curves.counts[d][i]);
    tell("seconds", curves.seconds[d][i]);
    tell("alarmed", curves.alarmed[d][i]);
    one("[data-tried]").setAttribute("transform", `translate(${x(i)} 0)`);
    move("noise", x(i), noiseAt(d, i));
    if (!silent()) return;
    for (const kind of ["seconds", "episodes", "patients"]) tell(`silent-${kind}`, silent()[kind][d][i]);
    const point = one('[data-point="silence"]');
    if (point) move("silence", x(i), +point.dataset.from + silenceAt(d, i));
  }

  // A narrow screen shows a part of the drawing: the one with the limit.
  function follow() {
    const there = one("[data-tried]").getBoundingClientRect(), seen = box.getBoundingClientRect();
    if (there.left < seen.left || there.right > seen.right) box.scrollLeft += there.left - seen.left - seen.width / 2;
  }

  function move(name, at, height) {
    const point = one(`[data-point="${name}"]`);
    point.setAttribute("cx", at);
    point.setAttribute("cy", height);
  }

  function nearest(limit) {
    return curves.limits.reduce((best, one, i) => (Math.abs(one - limit) < Math.abs(curves.limits[best] - limit) ? i : best), 0);
  }

  function stand(index) {
    slide.value = index;
    typed.value = curves.limits[index];
    show();
  }

  slide.addEventListener("input", () => { stand(place()); follow(); });
  typed.addEventListener("input", () => {
    const limit = Number(typed.value.replace(",", "."));
    if (typed.value.trim() === "" || Number.isNaN(limit)) return;
    slide.value = nearest(limit);
    show();
    follow();
  });
  delay.addEventListener("change", () => {
    draw("noise", noiseAt, size.noise);
    if (silent()) draw("silence", silenceAt, 0);
    show();
  });
  follow();
  const reach = one("[data-reach]");
  const drag = (event) => {
    const box = reach.getBoundingClientRect();
    const share = Math.min(Math.max((event.clientX - box.left) / box.width, 0), 1);
    stand(nearest(first + share * (last - first)));
  };
  reach.addEventListener("pointerdown", (event) => { reach.setPointerCapture(event.pointerId); drag(event); });
  reach.addEventListener("pointermove", (event) => { if (reach.hasPointerCapture(event.pointerId)) drag(event); });
})();
