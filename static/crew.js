// The look-up without signal: keeps a whole copy of the limits in force on the phone, and shows it
// where the server does not answer. A copy is taken whole or not at all.
"use strict";

// Tells the age under the thumb while it slides; the page works without it.
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

(() => {
  const agency = location.pathname.split("/")[1];
  const COPY = `/${agency}/limits/copy.json`;
  const SHELL = `/${agency}/limits/kept`;
  const HOUR = 3600000, RECHECK = 60000;
  // Of this page: when its limits were last confirmed, which copy it was opened with, and how many
  // warnings it shows.
  let confirmed = Date.now(), opened = "", warned = 0;
  const ages = globalThis.MarchstoneAges;
  if (!("caches" in window) || !("serviceWorker" in navigator)) return;

  async function kept() {
    const found = await caches.match(COPY, { cacheName: "kept" });
    if (!found) return null;
    const copy = await found.json();
    const { headers } = found;
    return { ...copy, at: Number(headers.get("kept-at")), ahead: Number(headers.get("ahead") || 0), tag: headers.get("etag") };
  }

  async function digestOf(bytes) {
    const hash = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
    return btoa(String.fromCharCode(...hash));
  }

  // The crew code has changed: what was kept with the old one goes.
  async function forget(store) {
    await store.delete(COPY);
    const labels = await caches.open("labels");
    for (const request of await labels.keys()) {
      if (new URL(request.url).pathname.startsWith(`/${agency}/`)) await labels.delete(request);
    }
    delete document.documentElement.dataset.kept;
  }

  // The page that shows the copy, in the edition that the service has now.
  async function keepShell(store) {
    const before = await store.match(SHELL);
    const asked = before ? { "If-None-Match": before.headers.get("etag") } : {};
    const shell = await fetch(SHELL, { headers: asked, cache: "no-store" });
    if (shell.status === 304 && before) return true;
    if (shell.ok) await store.put(SHELL, shell);
    return shell.ok;
  }

  // How far the phone's clock is ahead of the server's, which tells whole seconds.
  function aheadOf(answer) {
    const ahead = Date.now() - Date.parse(answer.headers.get("date"));
    return Math.abs(ahead) > 3000 ? ahead : 0;
  }

  // Fetches what is in force; a copy that came only in part is thrown away. True: it is whole.
  async function update() {
    const store = await caches.open("kept");
    const before = await store.match(COPY);
    const asked = before ? { "If-None-Match": before.headers.get("etag") } : {};
    const answer = await fetch(COPY, { headers: asked, cache: "no-store" });
    let body = null;
    if (answer.status === 304 && before) {
      body = await before.arrayBuffer();
    } else if (answer.ok) {
      body = await answer.arrayBuffer();
      if (answer.headers.get("repr-digest") !== `sha-256=:${await digestOf(body)}:`) return false;
      JSON.parse(new TextDecoder().decode(body));
    } else {
      if (answer.status === 401) await forget(store);
      return answer.status === 401;
    }
    if (!(await keepShell(store))) return false;
    const headers = {
      "content-type": "application/json",
      "kept-at": String(Date.now()),
      ahead: String(aheadOf(answer)),
      etag: answer.headers.get("etag") || before.headers.get("etag"),
    };
    await store.put(COPY, new Response(body, { headers }));
    document.documentElement.dataset.kept = "yes";
    confirmed = Date.now();
    tellOfCopy();
    return true;
  }

  // A page left open must not outlive what it shows: looked at again a minute later, it is held
  // against the server, or against the clock where there is no signal.
  async function recheck() {
    if (document.hidden || Date.now() - confirmed < RECHECK || document.querySelector("input:focus")) return;
    const fresh = await update().catch(() => false);
    const copy = await kept();
    const without = document.querySelector("#kept, .without-signal");
    const changed = fresh ? without || !copy || copy.tag !== opened
      : copy && (!without || warnings(copy).length !== warned);
    if (changed && (fresh || navigator.serviceWorker.controller)) location.reload();
  }

  function tellOfCopy() {
    const at = new Date().toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
    for (const place of document.querySelectorAll(".kept-copy")) {
      place.textContent = `The copy on this phone was confirmed at ${at}.`;
    }
  }

  // Of the device whose label led here.
  function modelAsked() {
    const given = document.querySelector("input[name=model]");
    return new URLSearchParams(location.search).get("model") || (given ? given.value : "");
  }

  // The address of another question, of the same model.
  function asking(asked) {
    const model = modelAsked();
    const query = new URLSearchParams(model ? { ...asked, model } : asked).toString();
    return `/${agency}/limits${query && "?"}${query}`;
  }

  // The pieces of the copy know no model.
  function carryModel(place) {
    const model = modelAsked();
    if (!model) return;
    for (const form of place.querySelectorAll("form")) {
      form.append(element("input", "", { type: "hidden", name: "model", value: model }));
    }
    for (const link of place.querySelectorAll(`a[href^="/${agency}/limits?"]`)) {
      const to = new URL(link.href);
      to.searchParams.set("model", model);
      link.href = to.pathname + to.search;
    }
  }

  function element(name, text, attributes = {}) {
    const made = document.createElement(name);
    made.textContent = text;
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    return made;
  }

  function told(text) {
    return element("p", text, { class: "notice grave", role: "status" });
  }

  // What to know of the copy before anything in it is believed.
  function warnings(copy) {
    const now = Date.now() - copy.ahead; // by the server's clock
    const hours = (Date.now() - copy.at) / HOUR;
    const found = [];
    if (hours < -0.1) {
      found.push("The phone’s clock went back, so nobody can tell how old this copy is.");
    } else if (hours > copy.fresh_hours) {
      const old = hours < 48 ? `${Math.floor(hours)} hours` : `${Math.floor(hours / 24)} days`;
      found.push(`This copy is ${old} old; ${copy.name} allows ${copy.fresh_hours} hours. Look for signal.`);
    }
    if (copy.ends_at && now >= Date.parse(copy.ends_at)) {
      found.push("Another revision has come into force since: these limits are no longer current. Look for signal.");
    }
    const today = new Date(now).toLocaleDateString("sv-SE"); // YYYY-MM-DD
    if (copy.expires_after && today > copy.expires_after) {
      found.push(`Expired after ${copy.expires_after}: nobody is known to have renewed revision ${copy.revision}. Look for signal.`);
    }
    return [...standing(copy), ...found.map(told)];
  }

  // Withdrawn, expired or overdue, as the server told it with the copy.
  function standing(copy) {
    const piece = document.createElement("div");
    piece.innerHTML = copy.standing || "";
    return [...piece.childNodes];
  }

  function ageOfCopy(copy) {
    const minutes = Math.max(0, Math.round((Date.now() - copy.at) / 60000));
    const past = minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h`;
    return element("p", `Without signal: the copy on this phone, confirmed ${past} ago.`, {
      class: "near copy-age", role: "status",
    });
  }

  function span(category) {
    if (category.to === null) return `${ages.words(category.from)} and over`;
    const start = category.start === 0n ? "birth" : ages.words(category.from);
    return `${start} to ${ages.words(category.to)}`;
  }

  function heading(category, age, how, revision) {
    const box = element("div", "", { class: "reached" });
    const title = element("h1", category.label), reached = element("p", `${how} `);
    if (age) title.append(" ", element("span", age, { class: "nowrap" }));
    reached.append(element("span", `Revision ${revision}.`, { class: "nowrap" }));
    box.append(title, reached, element("a", "Change", { class: "button plain", href: asking({}) }));
    return box;
  }

  function firstScreen(place, head) {
    const first = element("div", "", { class: "first-screen" });
    first.append(head);
    place.append(first);
    return first;
  }

  function near(other) {
    const label = other.category.label;
    const where = other.ahead
      ? `${label} begins at ${ages.words(other.edge)}. `
      : `Below ${ages.words(other.edge)} it is ${label}. `;
    const told = element("p", "", { class: "near" });
    const link = asking({ category: other.category.key });
    told.append(element("strong", "Near an edge."), ` ${where}`);
    told.append(element("a", `See ${label.toLowerCase()}`, { href: link }));
    return told;
  }

  function publish(place, copy, ticks) {
    for (const table of copy.published) {
      const at = table.rows.find(
        ([from, to]) => ages.parse(from) <= ticks && (to === null || ticks < ages.parse(to)),
      );
      const row = ticks === 0n && table.birth ? table.birth : at && at.slice(2);
      const sign = place.querySelector(`[aria-labelledby="sign-${table.sign}"]`);
      if (!row || !sign) continue;
      sign.append(element("p", `Healthy ${row[0]}–${row[1]} ${table.unit}`, { class: "published" }));
    }
  }

  function limits(place, copy, category, circumstance) {
    const held = copy.limits[category.key];
    const body = element("div", "", { class: "limits" });
    if (circumstance && !held[circumstance]) {
      body.append(told("The policy knows no such circumstance for this category: here are its limits without it."));
    }
    const piece = document.createElement("div");
    piece.innerHTML = held[circumstance] || held[""]; // our own server's page, whole and checked
    body.append(...piece.childNodes);
    onModel(body, copy, category);
    place.append(body);
  }

  // Where a device's label led here: its preset, and what is left to set by hand.
  function onModel(body, copy, category) {
    const told = (copy.models || {})[modelAsked()];
    const signs = body.querySelector(".signs");
    if (!told || !signs) return;
    const piece = document.createElement("div");
    piece.innerHTML = told[category.key];
    signs.before(...piece.childNodes);
  }

  function choose(place, copy, fault) {
    place.append(element("h1", "Alarm limits: how old?"));
    if (fault) place.append(told(`No age was understood: ${fault}.`));
    chooser(place, copy);
  }

  function chooser(place, copy) {
    const piece = document.createElement("div");
    piece.innerHTML = copy.chooser;
    place.append(...piece.childNodes);
  }

  function askedAge(query, copy) {
    if (query.get("age")) return ages.parse(query.get("age").trim());
    if (query.get("unit")) return ages.parse(`${(query.get("n") || "").trim().replace(",", ".")} ${query.get("unit")}`);
    const at = Number(query.get("place"));
    if (!at) throw new Error("slide to the age first, or write 0 and choose days for a newborn");
    return ages.parseSpoken(copy.stops[at]);
  }

  function show(place, copy) {
    const query = new URLSearchParams(location.search);
    const found = warnings(copy);
    warned = found.length;
    place.replaceChildren(ageOfCopy(copy), ...found);
    if (copy.revision === null) {
      place.append(element("h1", "No policy is in force"), told(copy.none));
      return;
    }
    const known = ages.scheme(copy.categories);
    if (query.get("category")) {
      const category = known.find((one) => one.key === query.get("category"));
      if (!category) { choose(place, copy, "this policy has no such category"); return; }
      const how = `Chosen as a category, without an age: ${span(category)}.`;
      limits(firstScreen(place, heading(category, "", how, copy.revision)), copy, category, query.get("circumstance") || "");
      chooser(place, copy);
      return;
    }
    if (query.get("weight")) { byWeight(place, copy, known, query.get("weight")); return; }
    if (!query.get("age") && !query.get("unit") && !query.get("place")) { choose(place, copy, ""); return; }
    try {
      byAge(place, copy, known, askedAge(query, copy), query.get("circumstance") || "");
    } catch (error) {
      choose(place, copy, error.message);
    }
  }

  function byWeight(place, copy, known, typed) {
    try {
      const kg = globalThis.MarchstoneWeights.parse(typed);
      const found = globalThis.MarchstoneWeights.resolve(copy.weights, known, kg);
      if (found.category && !found.ask) {
        limits(firstScreen(place, heading(found.category, "", found.how, copy.revision)), copy, found.category, "");
      } else {
        place.append(element("h1", "By weight: which category?"), element("p", found.how));
        if (found.ask) place.append(element("p", found.ask, { class: "near" }));
        place.append(choices(found));
      }
      chooser(place, copy);
    } catch (error) {
      choose(place, copy, error.message);
    }
  }

  function choices(found) {
    const likely = found.category ? [found.category] : [];
    const all = [...likely, ...found.possible.filter((one) => one !== found.category)];
    const list = element("ul", ""), nav = element("nav", "", { class: "categories" });
    for (const one of all) {
      const link = element("a", "", { href: asking({ category: one.key }) });
      const more = one === found.category ? ", the likeliest by weight" : "";
      link.append(element("b", one.label), " ", element("span", span(one) + more));
      const item = element("li", "");
      item.append(link);
      list.append(item);
    }
    nav.append(element("h2", "Choose with what you see"), list);
    return nav;
  }

  function byAge(place, copy, known, ticks, circumstance) {
    const category = ages.categoryAt(known, ticks);
    if (!category) throw new Error("this policy has no category for that age");
    const age = ages.words(ages.written(ticks));
    const first = firstScreen(place, heading(category, age, `By age: ${age} lies in ${span(category)}.`, copy.revision));
    const other = ages.neighbour(known, category, ticks);
    if (other) first.append(near(other));
    limits(first, copy, category, circumstance);
    publish(place, copy, ticks);
    chooser(place, copy);
    for (const link of place.querySelectorAll(".circumstances a")) {
      const to = new URL(link.href);
      to.searchParams.delete("category");
      to.searchParams.set("age", ages.written(ticks));
      link.href = to.pathname + to.search;
    }
  }

  // By birth date: worked out here, so that the date never leaves the phone.
  function offerBirthDate(copy) {
    const after = document.querySelector("form.ruler"); // below it, so that nothing moves under a thumb
    if (!after || !copy || copy.revision === null) return;
    const form = element("form", "", { class: "by-birth" });
    const field = element("input", "", { id: "born", type: "date", required: "", autocomplete: "off" });
    const answer = element("p", "", { role: "status", class: "born-answer" });
    form.append(element("label", "Or the birth date; it stays on this phone", { for: "born" }), field);
    form.append(element("button", "Work out", { class: "plain" }), answer);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      event.stopImmediatePropagation();
      try {
        const born = ages.date(field.value), now = new Date();
        const on = new Date(Date.UTC(now.getFullYear(), now.getMonth(), now.getDate()));
        const category = ages.categoryOn(ages.scheme(copy.categories), born, on);
        if (!category) throw new Error("this policy has no category for that age");
        const link = element("a", `Limits for ${category.label}`, {
          class: "button", href: asking({ category: category.key }),
        });
        answer.replaceChildren(`By birth date, ${ages.livedWords(born, on)}: ${category.label}. `, link);
      } catch (error) {
        answer.replaceChildren(`No age was understood: ${error.message}.`);
      }
    });
    after.after(form);
  }

  async function start() {
    // Once the page has all its files, so that the worker finds them and fetches none again.
    const register = () => navigator.serviceWorker.register("/sw.js").catch(() => {});
    if (document.readyState === "complete") register();
    else addEventListener("load", register);
    const place = document.getElementById("kept");
    if (place) {
      const copy = await kept();
      if (copy) show(place, copy);
      if (copy) carryModel(place);
      if (copy) offerBirthDate(copy);
      document.dispatchEvent(new Event("chooser"));
      return;
    }
    await update().catch(() => {});
    const copy = await kept();
    opened = copy ? copy.tag : "";
    offerBirthDate(copy);
  }

  addEventListener("pageshow", (event) => { if (event.persisted) recheck().catch(() => {}); });
  document.addEventListener("visibilitychange", () => recheck().catch(() => {}));
  setInterval(() => recheck().catch(() => {}), RECHECK / 4);

  start();
})();
