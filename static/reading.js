// Entering what a device shows: steps of what it can be set to, and a word when a number is none.
// Every form works without this; the server asks the same.
"use strict";

const places = (text) => (text.split(".")[1] || "").length;

// Where the number of this alarm is set: the only unit's, or that of the unit chosen.
function gridOf(input) {
  const unit = input.parentElement.querySelector("select.unit");
  const told = (unit ? unit.selectedOptions[0] : input).dataset;
  if (told.from === undefined) return null;
  const [from, to, step] = [told.from, told.to, told.step].map(Number);
  return { from, to, step, who: told.who, digits: Math.max(places(told.step), places(told.from)) };
}

const typed = (input) => Number(input.value.trim().replace(",", "."));
const written = (grid, value) => String(Number(value.toFixed(grid.digits)));
const stepsTo = (grid, value) => Number(((value - grid.from) / grid.step).toFixed(6));

function whyNot(grid, value) {
  if (value < grid.from || value > grid.to) return `${grid.who} goes from ${grid.from} to ${grid.to}`;
  const steps = stepsTo(grid, value);
  if (Number.isInteger(steps)) return "";
  const near = [Math.floor(steps), Math.ceil(steps)].map((n) => written(grid, grid.from + n * grid.step));
  return `${grid.who} goes in steps of ${grid.step}: ${near.join(" or ")}`;
}

function tell(input) {
  const grid = gridOf(input);
  const place = input.closest(".alarm").querySelector(".cannot");
  const value = typed(input);
  const known = input.value.trim() !== "" && grid !== null;
  place.textContent = known ? (Number.isNaN(value) ? "write a number" : whyNot(grid, value)) : "";
}

// An empty field begins at an end of what can be set, so that a press hints at nothing.
function move(input, way) {
  const grid = gridOf(input);
  if (grid === null) { input.parentElement.querySelector("select.unit").focus(); return; }
  const value = typed(input);
  const empty = input.value.trim() === "" || Number.isNaN(value);
  const steps = empty ? 0 : stepsTo(grid, value);
  const next = way > 0 ? Math.floor(steps) + 1 : Math.ceil(steps) - 1;
  const wanted = empty ? (way > 0 ? grid.from : grid.to) : grid.from + next * grid.step;
  input.value = written(grid, Math.min(grid.to, Math.max(grid.from, wanted)));
  input.dispatchEvent(new Event("input", { bubbles: true }));
}

function stepper(input, way) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "step";
  button.tabIndex = -1; // the arrow keys do the same
  button.textContent = way > 0 ? "+" : "−";
  button.setAttribute("aria-label", `${input.getAttribute("aria-label")}: ${way > 0 ? "up" : "down"} a step`);
  button.addEventListener("click", () => move(input, way));
  return button;
}

function furnish(input) {
  input.before(stepper(input, -1));
  input.after(stepper(input, 1));
  const place = document.createElement("span");
  place.className = "cannot";
  place.setAttribute("aria-live", "polite");
  const alarm = input.closest(".alarm");
  alarm.append(place);
  const instead = alarm.querySelector("select.instead");
  input.addEventListener("input", () => { if (input.value) instead.value = ""; });
  input.addEventListener("change", () => tell(input));
  instead.addEventListener("change", () => { if (instead.value) { input.value = ""; tell(input); } });
  const unit = alarm.querySelector("select.unit");
  if (unit) unit.addEventListener("change", () => tell(input));
  input.addEventListener("keydown", (event) => onKey(event, input, unit));
}

// Enter goes on to the next field, as the keypad of a phone says; only the button locks.
function onKey(event, input, unit) {
  const way = { ArrowUp: 1, ArrowDown: -1 }[event.key];
  if (way && !input.matches(".own-word")) { event.preventDefault(); move(input, way); return; }
  if (event.key !== "Enter") return;
  event.preventDefault();
  const alarms = [...document.querySelectorAll(".alarm")];
  const after = alarms[alarms.indexOf(input.closest(".alarm")) + 1];
  const first = after && after.querySelector(".amount input, .own-word, input[type=radio]");
  const next = unit && unit.value === "" ? unit : first || document.querySelector("form.reading .buttons button");
  next.focus();
}

for (const input of document.querySelectorAll(".alarm .amount input")) furnish(input);

// A word of its own and a choice exclude each other.
for (const own of document.querySelectorAll(".alarm .own-word")) {
  const picks = own.closest(".alarm").querySelectorAll("input[type=radio]");
  own.addEventListener("input", () => { if (own.value) picks.forEach((pick) => { pick.checked = false; }); });
  picks.forEach((pick) => pick.addEventListener("change", () => { own.value = ""; }));
  own.addEventListener("keydown", (event) => onKey(event, own, null));
}
