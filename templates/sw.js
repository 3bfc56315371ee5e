// Lets the look-up open without signal. Only pages with limits are kept, and nothing of a person.
"use strict";

const SHELL = "shell-{{ page.version }}";
const ASSETS = new Set({{ page.assets | tojson }});
const FILES = new Set([...ASSETS].map((one) => one.split("?")[0]));
const LIMITS = /^\/[^/]+\/limits$/;
const CHECK = /^\/[^/]+\/check$/;
const LABEL = /^\/[^/]+\/d\/[^/]+(\/values)?$/;
const PATIENCE_MS = 1500; // a weak signal is no signal

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(SHELL).then((shell) => shell.addAll([...ASSETS])).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("shell-") && name !== SHELL) await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (ASSETS.has(url.pathname + url.search)) {
    event.respondWith(caches.match(request, { cacheName: SHELL }).then((kept) => kept || fetch(request)));
  } else if (FILES.has(url.pathname)) {
    event.respondWith(otherEdition(request, url));
  } else if (request.mode === "navigate" && (LIMITS.test(url.pathname) || CHECK.test(url.pathname))) {
    event.respondWith(orKept(request, `${url.pathname}/kept`));
  } else if (request.mode === "navigate" && LABEL.test(url.pathname)) {
    event.respondWith(label(request, url));
  }
});

// `patience` 0: nothing was kept to turn to, so it waits as long as it takes.
async function online(request, patience = PATIENCE_MS) {
  const stop = new AbortController();
  const late = patience && setTimeout(() => stop.abort(), patience);
  const answer = await fetch(request, { signal: stop.signal }).finally(() => clearTimeout(late));
  if (answer.status >= 500) throw new Error("the server failed");
  return answer;
}

// A page kept before or after the service was renewed asks for files of another edition: without
// signal the edition at hand opens it all the same.
async function otherEdition(request, url) {
  try {
    return await online(request);
  } catch {
    const found = await caches.match(url.pathname, { cacheName: SHELL, ignoreSearch: true });
    return found || Response.error();
  }
}

async function orKept(request, path) {
  const found = await caches.match(path, { cacheName: "kept" });
  return online(request, found ? PATIENCE_MS : 0).catch(() => kept(path));
}

async function kept(path) {
  const found = await caches.match(path, { cacheName: "kept" });
  if (found) return found;
  const text = "Without signal, and this phone has kept no limits yet. Use the printed card.";
  return new Response(text, { status: 503, headers: { "content-type": "text/plain; charset=utf-8" } });
}

// Whoever was signed in is not kept with it.
const nameless = (text) => text
  .replace(/<nav aria-label="Main">[\s\S]*?<\/nav>/, "")
  .replace(/<div class="who">[\s\S]*?<\/div>/, "")
  .replace(/ data-person="[^"]*"/, ' data-person=""');

// One tap from a label, so it must open without signal as well; kept, and not looked at.
async function keepValues(store, path) {
  const answer = await fetch(path, { headers: { "kept-only": "yes" }, cache: "no-store" }).catch(() => null);
  if (!answer || !answer.ok || answer.redirected) return;
  const headers = new Headers(answer.headers);
  headers.set("kept-at", new Date().toISOString());
  await store.put(path, new Response(nameless(await answer.text()), { headers }));
}

// A device's page is kept as it was when it was last seen, and says so.
async function label(request, url) {
  const store = await caches.open("labels");
  const before = await store.match(url.pathname);
  try {
    const answer = await online(request, before ? PATIENCE_MS : 0);
    if (answer.ok && !answer.redirected) {
      const headers = new Headers(answer.headers);
      headers.set("kept-at", new Date().toISOString());
      const body = nameless(await answer.clone().text());
      await store.put(url.pathname, new Response(body, { headers }));
      if (!url.pathname.endsWith("/values")) keepValues(store, `${url.pathname}/values`);
    }
    return answer;
  } catch {
    if (!before) return kept(`/${url.pathname.split("/")[1]}/limits/kept`);
    const at = new Date(before.headers.get("kept-at")).toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" });
    const told = `<p class="notice grave without-signal" role="status"><strong>Without signal:</strong> this is what was known of the device on ${at}. What it holds may have changed since.</p>`;
    const text = (await before.text()).replace('<div id="told"', `${told}<div id="told"`)
      .replace(' data-known="yes"', ""); // who is signed in by now is not known
    return new Response(text, { headers: { "content-type": "text/html; charset=utf-8" } });
  }
}
