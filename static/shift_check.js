// The shift check on a phone: locked here first, then sent. Without this the form is sent as it is.
"use strict";

(() => {
  const form = document.querySelector("form.shift");
  const queue = globalThis.MarchstoneQueue;
  if (!form || !queue) return;
  const agency = form.action.split("/")[3];
  const value = (name) => String(new FormData(form).get(name) || "").trim();
  const MISSING = "nothing is entered";

  const scanned = new URLSearchParams(location.search).get("device");
  const device = form.elements.namedItem("device");
  if (scanned && device.type !== "hidden" && !device.value) device.value = scanned;

  const alarms = [...form.querySelectorAll("fieldset.alarm")];
  const questions = [...form.querySelectorAll("fieldset.chips")].filter((one) => !["preset", "state_read"].includes(one.id));
  const keyOf = (alarm) => alarm.querySelector("[id]").id;

  // Without signal nobody knows who is signed in: whoever checks says so, and is never guessed.
  let asksWho = null;
  queue.who().then(({ sure, person }) => {
    if (sure || !person) return;
    asksWho = document.createElement("fieldset");
    asksWho.className = "field chips";
    asksWho.id = "checker";
    asksWho.append(Object.assign(document.createElement("legend"), { textContent: "Who checks this device?" }));
    for (const [given, words] of [[person, person], ["", "somebody else"]]) {
      const label = Object.assign(document.createElement("label"), { className: "pick" });
      label.append(Object.assign(document.createElement("input"), { type: "radio", name: "checker", value: given }), ` ${words}`);
      asksWho.append(label);
    }
    form.querySelector(".buttons").before(asksWho);
  }).catch(() => {});

  // As the server reads the same fields; a reason where they cannot be read.
  function readingOf(alarm) {
    const key = keyOf(alarm), number = value(key).replace(",", "."), instead = value(`${key}.found`);
    const why = value(`${key}.why`), unit = value(`${key}.unit`);
    if (number && instead) return "give a number or what you found instead, not both";
    if (instead === "could-not-read") return why ? { state: instead, why } : "say why it could not be read";
    if (instead) return { state: instead };
    if (!number) return MISSING;
    if (!/^\d{1,4}(\.\d{1,2})?$/.test(number)) return "write a number, such as 25";
    if (alarm.querySelector("select.unit") && !unit) return "say the unit";
    const doubt = alarm.querySelector(".cannot").textContent;
    if (doubt && alarm.dataset.sure !== number) {
      alarm.dataset.sure = number;
      return "look again; if it is so, lock once more";
    }
    return { state: "on", limit: Number(number), ...(unit ? { unit } : {}) };
  }

  function tell(field, words) {
    field.classList.toggle("amiss", Boolean(words));
    let place = field.querySelector(".amiss-words");
    if (!place) {
      place = document.createElement("span");
      place.className = "amiss-words";
      place.setAttribute("role", "alert");
      field.append(place);
    }
    place.textContent = words;
    place.hidden = !words;
  }

  // What is missing is told at its field, and the first of them gets the focus.
  function body() {
    const amiss = [], readings = {}, answers = {};
    const ask = (field, words) => { tell(field, words); if (words) amiss.push(field); };
    for (const name of ["device", "preset", "state_read"]) {
      const field = form.querySelector(`#${name}`);
      if (field) ask(field.closest(".field"), value(name) ? "" : MISSING);
    }
    const minutes = value("minutes_off");
    ask(form.querySelector("#minutes_off").closest(".field"), /^\d{0,6}$/.test(minutes) ? "" : "write whole minutes, such as 10");
    for (const alarm of alarms) {
      const found = readingOf(alarm);
      ask(alarm, typeof found === "string" ? found : "");
      readings[keyOf(alarm)] = found;
    }
    for (const question of questions) {
      ask(question, value(question.id) ? "" : "answer this");
      answers[question.id] = value(question.id);
    }
    if (asksWho) ask(asksWho, asksWho.querySelector(":checked") ? "" : "say who you are");
    if (amiss.length) { amiss[0].querySelector("input, select").focus(); return null; }
    return {
      device: value("device"), preset: value("preset"), state_read: value("state_read"), readings, answers,
      remark: value("remark"), ...(minutes ? { minutes_off: Number(minutes) } : {}),
    };
  }

  function say(headline, ...words) {
    const place = document.getElementById("locked");
    const notice = document.createElement("div");
    notice.className = "notice";
    notice.tabIndex = -1;
    for (const [index, text] of [headline, ...words].entries()) {
      const line = document.createElement("p");
      line.append(index ? text : Object.assign(document.createElement("strong"), { textContent: text }));
      notice.append(line);
    }
    place.replaceChildren(notice);
    notice.focus();
  }

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    event.stopImmediatePropagation();
    const button = form.querySelector(".buttons button");
    if (button.disabled) return;
    const found = body();
    if (!found) return;
    button.disabled = true;
    let entry;
    try {
      entry = await queue.lock(found, value("checker"));
    } catch {
      button.disabled = false;
      say("This phone cannot keep the check.", "Nothing is locked, and what you typed is still here. Free some storage, or use another phone.");
      return;
    }
    form.hidden = true; // a locked check is never changed
    form.reset();
    say(`Locked: ${found.device}.`, "It is kept on this phone and sent as soon as there is signal and you are signed in. If anything seemed unsafe to you, swap the device now.");
    await queue.send();
    const after = (await queue.all()).find((one) => one.key === entry.key);
    if (!after || after.state !== "taken") return;
    location.assign(`/${agency}/checks/${after.result.id}`);
  }, { capture: true });
})();
