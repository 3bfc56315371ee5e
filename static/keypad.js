// A keypad under the form for whoever reads with a finger: digits, steps and words in one place.
// It takes no number that the device cannot be set to before that has been said once.
"use strict";

(() => {
  if (!matchMedia("(pointer: coarse)").matches) return;
  const fields = [...document.querySelectorAll(".alarm .amount input")];
  if (!fields.length) return;
  let field = null;
  let warned = "";

  const pad = document.createElement("div");
  pad.className = "keypad";
  pad.hidden = true;
  pad.setAttribute("role", "group");
  pad.setAttribute("aria-label", "Keypad");
  const what = document.createElement("p");
  what.className = "keypad-what";
  what.setAttribute("role", "status");
  const units = document.createElement("div");
  units.className = "keypad-units";
  const keys = document.createElement("div");
  keys.className = "keypad-keys";
  pad.append(what, units, keys);
  document.body.append(pad);

  const alarmOf = (input) => input.closest(".alarm");
  const label = () => alarmOf(field).querySelector("legend").textContent;
  const unitOf = (input) => input.parentElement.querySelector("select.unit");

  function change(value) {
    field.value = value;
    warned = "";
    field.dispatchEvent(new Event("input", { bubbles: true }));
    show();
  }

  function show() {
    const unit = unitOf(field);
    const cannot = alarmOf(field).querySelector(".cannot").textContent;
    const shown = unit ? (unit.value ? unit.selectedOptions[0].textContent : "") : "";
    what.textContent = `${label()}: ${field.value || "–"} ${shown}${cannot ? ` · ${cannot}` : ""}`;
    for (const key of units.children) key.setAttribute("aria-pressed", String(key.value === unit.value));
  }

  function leave(input) {
    const alarms = [...document.querySelectorAll(".alarm")];
    const next = alarms[alarms.indexOf(alarmOf(input)) + 1];
    const first = next && next.querySelector(".amount input, .own-word, input[type=radio]");
    const question = document.querySelector(".alarm ~ .chips input"); // of a shift check
    (first || question || document.querySelector("form.reading .buttons button")).focus();
  }

  function next() {
    const unit = unitOf(field);
    field.dispatchEvent(new Event("change", { bubbles: true }));
    const cannot = alarmOf(field).querySelector(".cannot").textContent;
    if (field.value && unit && !unit.value) {
      what.textContent = `${label()}: choose the unit`;
      return;
    }
    if (cannot && warned !== field.value) {
      warned = field.value;
      show();
      return;
    }
    leave(field);
  }

  function word(value) {
    const instead = alarmOf(field).querySelector("select.instead");
    if (![...instead.options].some((option) => option.value === value)) {
      what.textContent = `${label()}: this is not one of its words`;
      return;
    }
    instead.value = value;
    instead.dispatchEvent(new Event("change", { bubbles: true }));
    leave(field);
  }

  const does = {
    "⌫": () => change(field.value.slice(0, -1)),
    "−": () => { move(field, -1); show(); },
    "+": () => { move(field, 1); show(); },
    off: () => word("off"),
    next,
  };
  const named = { "⌫": "delete", "−": "down a step", "+": "up a step" };

  function key(text, act) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = text;
    button.tabIndex = -1; // a finger's; the keyboard has its own keys
    if (named[text]) button.setAttribute("aria-label", named[text]);
    // The field keeps the focus, so that nothing else opens.
    button.addEventListener("pointerdown", (event) => event.preventDefault());
    button.addEventListener("click", () => { if (field) act(); });
    return button;
  }

  for (const text of ["7", "8", "9", "⌫", "4", "5", "6", "−", "1", "2", "3", "+", ".", "0", "off", "next"]) {
    keys.append(key(text, does[text] || (() => change((field.value + text).slice(0, 6)))));
  }

  function offerUnits() {
    const unit = unitOf(field);
    const choices = unit ? [...unit.options].filter((option) => option.value) : [];
    units.replaceChildren(...choices.map((option) => {
      const button = key(option.textContent, () => {
        unit.value = option.value;
        unit.dispatchEvent(new Event("change", { bubbles: true }));
        show();
        if (field.value) next();
      });
      button.value = option.value;
      return button;
    }));
  }

  for (const input of fields) {
    input.setAttribute("inputmode", "none"); // this keypad stands in for the phone's
    input.addEventListener("focus", () => {
      field = input;
      warned = "";
      pad.hidden = false;
      document.body.classList.add("with-keypad");
      offerUnits();
      show();
      alarmOf(input).scrollIntoView({ block: "center" });
    });
  }
  // A finger was quicker than this script: taken anew, the field opens this keypad, not the phone's.
  const early = document.activeElement;
  if (fields.includes(early)) { early.blur(); early.focus(); }
  // A word chosen for an alarm without a number goes on, as the key does.
  document.addEventListener("change", (event) => {
    const chosen = event.target;
    if (chosen.matches(".alarm input[type=radio]") && chosen.value !== "could-not-read") leave(chosen);
  });
  document.addEventListener("focusin", (event) => {
    if (fields.includes(event.target) || pad.contains(event.target)) return;
    pad.hidden = true;
    field = null;
    // Only once the press that took the focus is over: the button under it must not move away.
    setTimeout(() => document.body.classList.toggle("with-keypad", !pad.hidden), 400);
  });
})();
