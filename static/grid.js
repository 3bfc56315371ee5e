// The grid by keyboard alone. Without it every cell is a link to its form.
"use strict";

(() => {
  const waiting = []; // typed entries and undos, sent one at a time: each needs the version before
  const undos = [];
  const redos = [];
  let sending = null;
  let unseen = false; // somebody else's change came while the next cell was being typed in
  let atId = null; // the cell that Tab reaches
  let typedFrom = new Map(); // forms rescued from cells that are about to be swapped
  let focusedId = null;

  const CELL = "table.grid[data-walked] .cell";
  const table = () => document.querySelector("table.grid[data-walked]");
  const writable = () => "base" in table().dataset; // else a reviewer walks it, and comments
  const undoForm = () => document.getElementById("undo");
  const linkOf = (cell) => cell.querySelector("a.value");
  const cells = () => [...table().querySelectorAll(".cell")];
  const rows = () => [...table().tBodies[0].rows].map((row) => [...row.querySelectorAll(".cell")]);

  function rove() {
    table().setAttribute("role", "grid");
    const all = cells();
    const at = all.find((cell) => cell.id === atId) || all[0];
    if (!at) return;
    atId = at.id;
    for (const cell of all) {
      for (const link of cell.querySelectorAll("a")) link.tabIndex = cell === at ? 0 : -1;
    }
  }

  function go(cell) {
    atId = cell.id;
    rove();
    (cell.querySelector(".entry input") || linkOf(cell)).focus();
  }

  function placeOf(cell) {
    const all = rows();
    const row = all.findIndex((one) => one.includes(cell));
    return [row, all[row].indexOf(cell)];
  }

  // The cell so many rows and columns away; nothing beyond the edges.
  function away(cell, down, right) {
    const all = rows();
    const [row, column] = placeOf(cell);
    const to = all[Math.min(Math.max(row + down, 0), all.length - 1)];
    return to[Math.min(Math.max(column + right, 0), to.length - 1)];
  }

  // Tab goes on at the next row where a row ends.
  function along(cell, step) {
    const all = cells();
    return all[all.indexOf(cell) + step] || cell;
  }

  // Down a category, then on to the next, and round.
  function nextBlank(cell, step) {
    const all = rows();
    const inOrder = all[0].flatMap((_, column) => all.map((row) => row[column]));
    const from = inOrder.indexOf(cell);
    for (let n = 1; n <= inOrder.length; n += 1) {
      const one = inOrder[(from + step * n + inOrder.length * 2) % inOrder.length];
      if ("blank" in one.dataset) return one;
    }
    say("There are no blanks.");
    return cell;
  }

  function say(words) {
    document.getElementById("said").textContent = words;
  }

  // Typing into a cell

  function openEntry(cell, text) {
    const form = document.createElement("form");
    const input = document.createElement("input");
    const wrong = document.createElement("span");
    form.className = "entry";
    form.method = "post";
    form.action = linkOf(cell).href.split("?")[0] + "/typed";
    input.name = "typed";
    input.value = text;
    input.maxLength = 60;
    input.autocomplete = "off";
    input.setAttribute("aria-label", linkOf(cell).querySelector(".out-of-sight").textContent);
    wrong.className = "wrong";
    wrong.id = `${cell.id}-wrong`;
    wrong.setAttribute("role", "alert");
    form.append(input, wrong);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      event.stopPropagation();
      finish(cell.id, away(document.getElementById(cell.id), 1, 0));
    });
    cell.append(form);
    input.focus();
    input.setSelectionRange(text.length, text.length);
  }

  function leaveBlank(cell) {
    if (cell.classList.contains("blank")) return;
    openEntry(cell, "blank");
    finish(cell.id, cell);
  }

  function giveUp(cell) {
    cell.querySelector(".entry").remove();
    go(cell);
  }

  // What was typed is sent, and the person goes on at once.
  function finish(id, next) {
    const cell = document.getElementById(id);
    const form = cell.querySelector(".entry");
    const input = form.elements.typed;
    if (input.readOnly) return;
    if (!input.value.trim()) {
      form.remove();
    } else {
      input.readOnly = true;
      waiting.push({ kind: "edit", cell: id, form, path: form.action, typed: input.value });
    }
    go(next);
    if (unseen) holdBack();
    else pump();
  }

  function wrongIn(id, words) {
    const form = document.getElementById(id).querySelector(".entry");
    const input = form.elements.typed;
    const wrong = form.querySelector(".wrong");
    input.readOnly = false;
    input.setAttribute("aria-invalid", "true");
    input.setAttribute("aria-describedby", wrong.id);
    wrong.textContent = words;
    // Whoever types elsewhere already is not torn away from it.
    const { activeElement } = document;
    if (!activeElement || !activeElement.closest(".entry, .cell-form")) {
      atId = id;
      rove();
      input.focus();
    }
  }

  // Sending, one after the other

  async function pump() {
    if (sending || !waiting.length) return;
    sending = waiting.shift();
    try {
      await send(sending);
    } catch {
      failed("No connection. Nothing was saved; what you typed is still here.");
    }
    sending = null;
    pump();
  }

  async function send(entry) {
    const fields = undoForm().elements;
    const body = new URLSearchParams({ edit_version: fields.edit_version.value, age: fields.age.value });
    if (entry.typed !== undefined) body.set("typed", entry.typed);
    if (entry.kind !== "edit") {
      const before = (entry.kind === "undo" ? undos : redos).pop();
      if (before === undefined) {
        say(`There is nothing to ${entry.kind}.`);
        return;
      }
      body.set("before", before);
    }
    const answer = await fetch(entry.path, { method: "POST", body, headers: { "HX-Request": "true" } });
    const text = await answer.text();
    if (entry.cell && answer.status === 422) {
      failed(text.trim());
      return;
    }
    entry.done = answer.ok || answer.status === 409;
    if (answer.status === 409) undos.length = redos.length = 0;
    swapIn(answer, text);
    if (entry.done && entry.form) entry.form.remove();
    if (answer.status === 409) holdBack();
    else if (!answer.ok) failed("This was not saved.");
  }

  function swapIn(answer, text) {
    const target = answer.headers.get("HX-Retarget") || "#told";
    const { activeElement } = document;
    const walking = activeElement && activeElement.closest(CELL);
    // Whoever types in a cell is not torn away from it by the heading of what came meanwhile.
    const calm = walking ? text.replace('tabindex="-1" autofocus', 'tabindex="-1"') : text;
    htmx.swap(target, calm, { swapStyle: "innerHTML" });
    unseen = answer.status === 409 && Boolean(walking);
    if (target === "#cell-place") document.querySelector(target).scrollIntoView();
  }

  // Somebody else saved meanwhile: nothing is undone past that, and what was typed ahead waits
  // until the person has seen what changed.
  function holdBack() {
    const ahead = waiting.splice(0);
    if (ahead.length) unseen = false;
    for (const { cell } of ahead) {
      if (cell) wrongIn(cell, "Not saved yet: somebody else saved meanwhile. Enter saves it.");
    }
  }

  function failed(words) {
    if (sending.cell) wrongIn(sending.cell, words);
    else say(words);
  }

  // Undo and redo

  function takeBack(kind) {
    waiting.push({ kind, path: undoForm().action });
    pump();
  }

  function remember() {
    const form = undoForm();
    if ("seen" in form.dataset) return; // htmx tells of one swap several times
    form.dataset.seen = "";
    const { before, edit_version: version } = form.elements;
    if (before.value) {
      if (!sending || sending.kind === "edit") redos.length = 0;
      (sending && sending.kind === "undo" ? redos : undos).push(before.value);
    }
    before.value = undos.at(-1) || "";
    form.hidden = !undos.length;
    for (const other of document.querySelectorAll("input[name=edit_version]")) other.value = version.value;
  }

  document.addEventListener("submit", (event) => {
    if (event.target.id !== "undo") return;
    event.preventDefault();
    event.stopImmediatePropagation();
    takeBack("undo");
  }, { capture: true });

  // Keys

  const MOVES = { ArrowDown: [1, 0], ArrowUp: [-1, 0], ArrowRight: [0, 1], ArrowLeft: [0, -1], Home: [0, -99], End: [0, 99], PageDown: [8, 0], PageUp: [-8, 0] };

  function onLink(event, cell) {
    const control = event.ctrlKey || event.metaKey;
    const key = event.key.toLowerCase();
    if (control && event.key === "Home") go(rows()[0][0]);
    else if (control && event.key === "End") go(rows().at(-1).at(-1));
    else if (control || event.altKey) return;
    else if (event.key in MOVES) go(away(cell, ...MOVES[event.key]));
    else if (!writable()) return;
    else if (event.key === "F2") linkOf(cell).click();
    else if (event.key === "Delete") leaveBlank(cell);
    else if (key === "b") go(nextBlank(cell, event.shiftKey ? -1 : 1));
    else if (/^[a-z0-9.]$/.test(key)) openEntry(cell, event.key);
    else return;
    event.preventDefault();
  }

  function onEntry(event, cell) {
    if (event.isComposing) return;
    if (event.key === "Enter") finish(cell.id, away(cell, event.shiftKey ? -1 : 1, 0));
    else if (event.key === "Tab") finish(cell.id, along(cell, event.shiftKey ? -1 : 1));
    else if (event.key === "Escape" && !event.target.readOnly) giveUp(cell);
    else return;
    event.preventDefault();
  }

  // Anywhere on the page but in a field, which undoes its own typing. A moved wall counts too.
  function undoKey(event) {
    const key = event.key.toLowerCase();
    const asked = (event.ctrlKey || event.metaKey) && !event.altKey && (key === "z" || key === "y");
    if (!asked || !undoForm() || event.target.closest("input, select, textarea")) return false;
    takeBack(key === "y" || event.shiftKey ? "redo" : "undo");
    event.preventDefault();
    return true;
  }

  document.addEventListener("keydown", (event) => {
    if (undoKey(event)) return;
    const cell = event.target.closest(CELL);
    if (cell && event.target.matches("a.value")) onLink(event, cell);
    else if (cell && event.target.matches(".entry input")) onEntry(event, cell);
    else if (event.key === "Escape" && event.target.closest("#cell-place")) closeForm(event);
  });

  document.addEventListener("click", (event) => {
    if (table() && event.target.closest("#cell-place [data-leave]")) closeForm(event);
  });

  function closeForm(event) {
    event.preventDefault();
    document.getElementById("cell-place").replaceChildren();
    const cell = document.getElementById(atId);
    if (cell) go(cell);
  }

  document.addEventListener("focusin", (event) => {
    if (event.target.closest("#cell-place")) unseen = false;
    const cell = event.target.closest(CELL);
    if (!cell || cell.id === atId) return;
    atId = cell.id;
    rove();
  });

  document.addEventListener("click", (event) => {
    const link = event.target.closest("#blanks a");
    const cell = link && table() && document.getElementById(link.hash.slice(1));
    if (!cell) return;
    event.preventDefault();
    go(cell);
  });

  // A swap takes neither the place nor what is being typed.

  document.addEventListener("htmx:oobBeforeSwap", (event) => {
    const { target } = event.detail;
    for (const form of target.querySelectorAll(".entry")) {
      const { id } = form.closest(".cell");
      if (!(sending && sending.done && sending.cell === id)) typedFrom.set(id, form);
    }
    const { activeElement } = document;
    const cell = target.contains(activeElement) && activeElement.closest(".cell");
    if (cell) focusedId = cell.id;
  });

  document.addEventListener("htmx:oobAfterSwap", (event) => {
    const { target } = event.detail;
    if (target.id === "undo") remember();
    if (!table() || !(target.id === "grid" || target.matches(".cell"))) return;
    for (const [id, form] of typedFrom) {
      const cell = document.getElementById(id);
      if (cell) cell.append(form);
    }
    typedFrom = new Map();
    rove();
    const cell = focusedId && document.getElementById(focusedId);
    focusedId = null;
    if (cell) go(cell);
  });

  document.addEventListener("DOMContentLoaded", () => {
    if (table()) rove();
  });
})();
