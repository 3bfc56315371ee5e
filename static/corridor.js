// Takes hold of the walls of the age corridor, by hand or by key; without it the buttons do.
"use strict";

const LANE_HEIGHT = 132, VIEW_HEIGHT = 150, MOST_STEPS = 1000, PAUSE_MS = 900, PAGE_STEPS = 10;
let held = null; // the wall that is being moved: {grip, place, timer, pointer, from, rest}

// What the server wrote on a grip, as numbers.
function wallOf(grip) {
  const data = grip.dataset;
  const number = (name) => Number(data[name]);
  const [first, last, step] = [number("first"), number("last"), number("step")];
  const decimals = (data.step.split(".")[1] || "").length;
  const firstDecimals = (data.first.split(".")[1] || "").length;
  return {
    first, step,
    limit: number("limit"), bottom: number("bottom"), top: number("top"),
    places: Math.round((last - first) / step),
    written: (value) => String(Number(value.toFixed(Math.max(decimals, firstDecimals)))),
  };
}

// Where a limit stands among the stops; between two of them it is no whole number.
function placeOf(wall, value) {
  return Math.round(((value - wall.first) / wall.step) * 1e6) / 1e6;
}

function within(wall, place) {
  return Math.min(Math.max(place, 0), wall.places);
}

// As the server counts: a wall between two stops goes to the next one first.
function stepsTo(wall, place) {
  const from = placeOf(wall, wall.limit);
  if (place === from) return 0;
  const steps = place - (place > from ? Math.floor(from) : Math.ceil(from));
  return Math.min(Math.max(steps, -MOST_STEPS), MOST_STEPS);
}

function valueAt(wall, place) {
  return place === null ? wall.limit : wall.first + place * wall.step;
}

// A wall as a slider, which is what it is to whoever hears it.
function raise(grip) {
  const wall = wallOf(grip);
  grip.setAttribute("role", "slider");
  grip.setAttribute("aria-label", grip.dataset.name);
  grip.setAttribute("aria-orientation", "vertical");
  grip.setAttribute("aria-describedby", "grip-hint");
  grip.setAttribute("aria-valuemin", wall.first);
  grip.setAttribute("aria-valuemax", valueAt(wall, wall.places));
  show(grip, wall, null);
}

// One wall of each side of a lane is reached by Tab, its neighbours by arrow.
function raiseAll(root) {
  const grips = [...root.querySelectorAll(".grip")];
  for (const grip of grips) raise(grip);
  for (const row of root.matches(".lane-row") ? [root] : root.querySelectorAll(".lane-row")) {
    for (const side of ["low", "high"]) {
      const first = row.querySelector(`.grip[data-side="${side}"]`);
      if (first) first.setAttribute("tabindex", "0");
    }
  }
}

function show(grip, wall, place) {
  const value = valueAt(wall, place);
  const rise = ((value - wall.limit) / (wall.top - wall.bottom)) * LANE_HEIGHT;
  grip.querySelector(".moving").setAttribute("transform", `translate(0 ${(-rise).toFixed(1)})`);
  grip.querySelector(".now").textContent = place === null ? "" : wall.written(value);
  grip.setAttribute("aria-valuenow", wall.written(value));
  grip.setAttribute("aria-valuetext", `${wall.written(value)} ${grip.dataset.unit}`);
}

function takeHold(grip) {
  if (held && held.grip === grip) return;
  if (held) keep();
  held = { grip, wall: wallOf(grip), place: null, timer: 0 };
  grip.classList.add("held-on");
}

function moveTo(place) {
  held.place = within(held.wall, place);
  show(held.grip, held.wall, held.place);
}

function letGo() {
  const gone = held;
  held = null;
  clearTimeout(gone.timer);
  gone.grip.classList.remove("held-on");
  return gone;
}

function giveUp() {
  if (!held) return;
  const { grip, wall } = letGo();
  show(grip, wall, null);
}

// One edit, however far the wall went.
function keep() {
  if (!held) return;
  const { grip, wall, place } = letGo();
  const steps = place === null ? 0 : stepsTo(wall, place);
  if (!steps) { show(grip, wall, null); return; }
  grip.classList.add("sending");
  const strip = document.getElementById("strip").dataset;
  const values = { steps, edit_version: strip.editVersion, age: strip.age };
  const back = () => {
    grip.classList.remove("sending");
    if (grip.isConnected) show(grip, wall, null);
  };
  htmx.ajax("POST", grip.dataset.action, { target: "#said", swap: "innerHTML", values })
    .then(back, back);
}

document.addEventListener("pointerdown", (event) => {
  const grip = event.target.closest(".grip");
  if (!grip || event.button !== 0 || grip.matches(".sending")) return;
  // A finger that pans or scrolls often lands on a wall: only a wall tapped before is taken along.
  if (event.pointerType === "touch" && document.activeElement !== grip) return;
  grip.focus({ preventScroll: true });
  takeHold(grip);
  held.pointer = event.pointerId;
  held.from = event.clientY;
  held.rest = placeOf(held.wall, held.wall.limit);
  grip.setPointerCapture(event.pointerId);
  event.preventDefault();
});

document.addEventListener("pointermove", (event) => {
  if (!held || held.pointer !== event.pointerId) return;
  const drawn = held.grip.ownerSVGElement.getBoundingClientRect();
  const lanes = ((held.from - event.clientY) / drawn.height) * (VIEW_HEIGHT / LANE_HEIGHT);
  const places = (lanes * (held.wall.top - held.wall.bottom)) / held.wall.step;
  const place = Math.round(held.rest + places);
  if (held.place !== null || place !== Math.round(held.rest)) moveTo(place);
});

document.addEventListener("pointerup", (event) => {
  if (held && held.pointer === event.pointerId) keep();
});
document.addEventListener("pointercancel", giveUp);

const MOVES = { ArrowUp: 1, ArrowDown: -1, PageUp: PAGE_STEPS, PageDown: -PAGE_STEPS };

document.addEventListener("keydown", (event) => {
  const grip = event.target.closest && event.target.closest(".grip");
  if (!grip || grip.matches(".sending") || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key in MOVES) {
    takeHold(grip);
    stepBy(MOVES[event.key] * (event.shiftKey ? PAGE_STEPS : 1));
  } else if (event.key === "ArrowLeft" || event.key === "ArrowRight") {
    neighbour(grip, event.key === "ArrowRight" ? 1 : -1);
  } else if (event.key === "Enter") {
    keep();
  } else if (event.key === "Escape") {
    giveUp();
  } else {
    return;
  }
  event.preventDefault();
  event.stopPropagation();
});

function stepBy(steps) {
  const { wall, place } = held;
  const from = place === null ? placeOf(wall, wall.limit) : place;
  moveTo((steps > 0 ? Math.floor(from) : Math.ceil(from)) + steps);
  clearTimeout(held.timer);
  held.timer = setTimeout(keep, PAUSE_MS);
}

function wallsBeside(grip) {
  const side = `.grip[data-side="${grip.dataset.side}"]`;
  return [...grip.closest(".grips").querySelectorAll(side)];
}

function neighbour(grip, by) {
  const grips = wallsBeside(grip);
  const next = grips[grips.indexOf(grip) + by];
  if (next) next.focus();
}

// Tab comes back to the wall that was left.
document.addEventListener("focusin", (event) => {
  const grip = event.target.closest && event.target.closest(".grip");
  if (!grip) return;
  for (const other of wallsBeside(grip)) {
    other.setAttribute("tabindex", other === grip ? "0" : "-1");
  }
});

document.addEventListener("focusout", (event) => {
  if (held && held.grip === event.target && held.pointer === undefined) keep();
});

// On a narrow screen the drawing is wider than its box: keep the age in hand in sight.
function showAge() {
  const box = document.querySelector(".corridor-box");
  const line = document.querySelector("#age-line .head");
  if (!box || !line || box.scrollWidth <= box.clientWidth) return;
  const at = line.getBoundingClientRect().left - box.getBoundingClientRect().left;
  if (at < 60 || at > box.clientWidth - 30) box.scrollLeft += at - box.clientWidth / 2;
}

// A lane that was swapped has new walls: the one in hand stays in hand.
function swapped(event) {
  const part = event.target;
  if (part.matches(".lane-row, #corridor")) raiseAll(part);
  if (part.matches("#age-line, #corridor")) showAge();
}

let inHand = "";
document.addEventListener("htmx:beforeSwap", () => {
  const grip = document.activeElement && document.activeElement.closest(".grip");
  inHand = grip ? grip.id : "";
});
document.addEventListener("htmx:oobAfterSwap", swapped);
document.addEventListener("htmx:afterSettle", () => {
  const grip = inHand && document.getElementById(inHand);
  if (grip && document.activeElement !== grip) grip.focus({ preventScroll: true });
  inHand = "";
});
document.addEventListener("DOMContentLoaded", () => { raiseAll(document.body); showAge(); });
