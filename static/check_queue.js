// Shift checks, and the word that a revision was seen, wait on the phone until the server has taken them: in the order in which they were
// locked, each under a key of its own, so that nothing is lost or doubled however often a phone is
// killed or a line breaks.
"use strict";

(() => {
  const place = document.getElementById("queue");
  if (!place || !window.indexedDB || !window.crypto.randomUUID) return;
  const agency = place.dataset.agency;
  const KEPT = `/${agency}/check/kept`;
  const PATIENCE_MS = 20000, DAY_MS = 24 * 3600000;
  let said = ""; // why nothing goes out at the moment
  let person = null; // null: a kept page does not know who is signed in

  const base = new Promise((done, fail) => {
    const asked = indexedDB.open("marchstone", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("checks", { keyPath: "key" });
      asked.result.createObjectStore("phone", { keyPath: "agency" });
    };
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });
  const answer = (request) => new Promise((done, fail) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => fail(request.error);
  });

  // `work` is done whole or not at all; what it gives is told only once it is on the disk.
  async function change(work) {
    const tx = (await base).transaction(["checks", "phone"], "readwrite", { durability: "strict" });
    const kept = new Promise((done, fail) => {
      tx.oncomplete = done;
      tx.onabort = () => fail(tx.error || new Error("the phone kept nothing"));
    });
    const given = await work(tx.objectStore("checks"), tx.objectStore("phone"));
    await kept;
    return given;
  }

  async function phoneOf(phones) {
    const known = await answer(phones.get(agency));
    return known || { agency, id: crypto.randomUUID(), next: 1, person: "" };
  }

  async function all() {
    const checks = (await base).transaction("checks").objectStore("checks");
    const found = await answer(checks.getAll());
    return found.filter((one) => one.agency === agency).sort((a, b) => a.number - b.number);
  }

  // Who is signed in; without signal, only who last was.
  async function who() {
    const phone = await change((_, phones) => phoneOf(phones));
    return { sure: person !== null, person: person === null ? phone.person : person };
  }

  const isCheck = (entry) => entry.kind !== "seen"; // older ones have no kind
  const put = (entry) => change((checks) => checks.put(entry));
  const drop = (key) => change((checks) => checks.delete(key));

  // Its key, its number and its time are made here, once.
  function lock(body, name = null, kind = "check") {
    if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => {});
    return change(async (checks, phones) => {
      const phone = await phoneOf(phones);
      const reader = person === null ? name || "" : person;
      const opened = (phone.shown || {})[body.device];
      const entry = {
        key: crypto.randomUUID(), kind, agency, phone: phone.id, number: phone.next, reader,
        body: opened ? { ...body, values_seen_at: opened } : body,
        locked_at: new Date().toISOString(), state: "waiting",
      };
      phones.put({ ...phone, next: phone.next + 1 });
      checks.put(entry);
      return entry;
    });
  }

  // One page sends at a time; a second one would send the same, and the server takes it once.
  function send() {
    if (!navigator.locks) return sendAll();
    return navigator.locks.request(`marchstone-${agency}`, sendAll);
  }

  async function sendAll() {
    said = "";
    for (const entry of await all()) {
      const mine = entry.reader && (person === null || entry.reader === person);
      if (entry.state === "waiting" && mine && !(await sent(entry))) break;
    }
    await show();
  }

  // Whether to go on with the next one.
  async function sent(entry) {
    const { phone, number, locked_at } = entry;
    const queued = { phone, number, locked_at, sent_at: new Date().toISOString() };
    const { revision, ...more } = entry.body;
    const address = isCheck(entry) ? "checks" : `revisions/${revision}/acknowledgements`;
    let told, words;
    try {
      told = await fetch(`/api/v1/${agency}/${address}`, {
        method: "POST",
        headers: { "Content-Type": "application/json", "Idempotency-Key": entry.key },
        body: JSON.stringify({ ...more, reader: entry.reader, queued }),
        signal: AbortSignal.timeout(PATIENCE_MS), // a line that hangs must not hold up the others
      });
      words = told.status === 204 ? {} : await told.json();
    } catch {
      said = "No signal, or the server does not answer.";
      return false;
    }
    if (told.status === 401) { said = "Sign in to send."; return false; }
    if (told.status === 429 || told.status >= 500) { said = "The server is busy."; return false; }
    if (ofAnother(told, words)) { said = "Somebody else is signed in now."; return true; }
    if (told.ok) await put({ ...entry, state: "taken", result: words });
    else await put({ ...entry, state: "refused", why: whyOf(words) });
    return true;
  }

  // The page was loaded for whoever locked it, and somebody else has signed in since, perhaps of
  // another agency: it waits.
  function ofAnother(told, words) {
    const detail = words.detail || "";
    if (told.status === 403) return /^This (check was locked|was said) by/.test(detail);
    return told.status === 404 && !/^There is no (device|revision)/.test(detail);
  }

  function whyOf(words) {
    const faults = (words.errors || []).map((one) => `${one.column || ""}: ${one.reason}`.replace(/^: /, ""));
    return faults.length ? faults : [words.detail || "The server refused it."];
  }

  const element = (name, text, attributes = {}) => {
    const made = document.createElement(name);
    made.textContent = text;
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    return made;
  };
  const act = (text, work) => {
    const button = element("button", text, { type: "button", class: "plain" });
    button.addEventListener("click", async () => { button.disabled = true; await work(); await send(); });
    return button;
  };
  const link = (text, href) => element("a", text, { class: "button plain", href });
  const time = (at) => new Date(at).toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" });
  const RESULTS = {
    unsafe: "unsafe: keep it from the next patient, and swap it now",
    "look-again": "taken; please look again",
    differs: "taken; it does not hold the policy",
    amiss: "taken; something must be put right",
    seen: "taken; its values were seen before, so it proves nothing",
    "in-use": "taken; it says how the device was used",
    partly: "taken; not everything could be told",
    holds: "taken; what you read holds the policy",
  };

  function line(entry, words, ...acts) {
    const item = element("li", "");
    const what = isCheck(entry) ? entry.body.device : `Revision ${entry.body.revision} seen, at ${entry.body.station}`;
    item.append(element("strong", what), ` (locked ${time(entry.locked_at)}): ${words}`);
    const row = element("div", "", { class: "acts" });
    row.append(...acts);
    item.append(row);
    return item;
  }

  function lineOfSeen(entry) {
    const news = link("Read it again", `/${agency}/news/${entry.body.revision}`);
    if (entry.state === "taken") return line(entry, "sent; it counts as seen.", act("Done", () => drop(entry.key)));
    return line(entry, `not taken. ${entry.why.join("; ")}`, news, act("Throw this one away", () => drop(entry.key)));
  }

  function lineOf(entry) {
    if (!isCheck(entry) && entry.state !== "waiting") return lineOfSeen(entry);
    if (entry.state === "refused") {
      const again = `/${agency}/check?device=${encodeURIComponent(entry.body.device)}`;
      return line(entry, `not taken. ${entry.why.join("; ")}`, link("Check it again", again),
        act("Throw this one away", () => drop(entry.key)));
    }
    if (entry.state === "taken") {
      const item = line(entry, RESULTS[entry.result.result], link("What it brought", `/${agency}/checks/${entry.result.id}`),
        act("Seen", () => drop(entry.key)));
      if (entry.result.result === "unsafe") item.className = "grave-result";
      return item;
    }
    if (!entry.reader && person) {
      return line(entry, "locked while nobody was signed in.",
        act(`${isCheck(entry) ? "I checked it" : "I have seen it"}: send as ${person}`, () => put({ ...entry, reader: person })));
    }
    if (!entry.reader) return line(entry, "waits until you sign in.");
    if (person !== null && entry.reader !== person) return line(entry, `waits until ${entry.reader} signs in.`);
    return line(entry, "waits.");
  }

  async function show() {
    const entries = await all();
    const wait = entries.filter((one) => one.state === "waiting"), waiting = wait.length;
    place.className = entries.length ? "queue" : "";
    if (!entries.length) { place.replaceChildren(); return; }
    const head = element("p", "");
    if (waiting) {
      const checks = wait.filter(isCheck).length;
      const noun = checks === waiting ? "check" : checks ? "message" : "acknowledgement";
      const many = waiting === 1 ? `1 ${noun} is` : `${waiting} ${noun}s are`;
      head.append(element("strong", `${many} kept on this phone, not sent yet.`), ` ${said}`);
    }
    const list = element("ul", "");
    list.append(...entries.map(lineOf));
    const acts = element("div", "", { class: "acts" });
    if (waiting) acts.append(act("Send now", async () => {}));
    if (waiting && person === "" || said.startsWith("Sign in")) {
      acts.append(link("Sign in", `/sign-in?next=${encodeURIComponent(`/${agency}/check`)}`));
    }
    place.replaceChildren(head, list, acts);
  }

  // Whoever was shown what a device holds is no blind reader of it: remembered here, with signal or
  // without.
  function noteShown(tag) {
    return change(async (_, phones) => {
      const phone = await phoneOf(phones);
      const recent = Object.entries(phone.shown || {}).filter(([, at]) => Math.abs(Date.now() - Date.parse(at)) < DAY_MS);
      phones.put({ ...phone, shown: { ...Object.fromEntries(recent), [tag]: new Date().toISOString() } });
    });
  }

  // The form for any device is kept, so that a check can begin without signal.
  async function keepForm() {
    const store = await caches.open("kept");
    const before = await store.match(KEPT);
    const asked = before ? { "If-None-Match": before.headers.get("etag") } : {};
    const found = await fetch(KEPT, { headers: asked, cache: "no-store" });
    if (found.ok) await store.put(KEPT, found);
    document.documentElement.dataset.check = "kept";
  }

  async function start() {
    if (place.dataset.values) await noteShown(place.dataset.values);
    if (place.dataset.known) {
      person = place.dataset.person;
      await change(async (_, phones) => { phones.put({ ...(await phoneOf(phones)), person }); });
      if ("caches" in window) keepForm().catch(() => {});
    }
    for (const one of await all()) { // what it brought is on this very page
      if (one.state === "taken" && String(one.result.id) === place.dataset.check) await drop(one.key);
    }
    await show();
    await send();
  }

  globalThis.MarchstoneQueue = { lock, send, all, who, drop };
  window.addEventListener("online", send);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
  if ("serviceWorker" in navigator) navigator.serviceWorker.register("/sw.js").catch(() => {});
  start().catch(() => {});
})();
