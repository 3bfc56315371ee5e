// Lets the look-up open without signal. Only pages with limits are kept, and nothing of a person.
"use strict";

const SHELL = "shell-{{ page.version }}";
const ASSETS = new Set({{ page.assets | tojson }});
const LIMITS = /^\/[^/]+\/limits$/;
const CHECK = /^\/[^/]+\/check$/;
const LABEL = /^\/[^/]+\/d\/[^/]+$/;
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
  } else if (request.mode === "navigate" && (LIMITS.test(url.pathname) || CHECK.test(url.pathname))) {
    event.respondWith(online(request).catch(() => kept(`${url.pathname}/kept`)));
  } else if (request.mode === "navigate" && LABEL.test(url.pathname)) {
    event.respondWith(label(request, url));
  }
});

async function online(request) {
  const stop = new AbortController();
  const late = setTimeout(() => stop.abort(), PATIENCE_MS);
  const answer = await fetch(request, { signal: stop.signal }).finally(() => clearTimeout(late));
  if (answer.status >= 500) throw new Error("the server failed");
  return answer;
}

async function kept(path) {
  const found = await caches.match(path, { cacheName: "kept" });
  if (found) return found;
  const text = "Without signal, and this phone has kept no limits yet. Use the printed card.";
  return new Response(text, { status: 503, headers: { "content-type": "text/plain; charset=utf-8" } });
}

// A device's page is kept as it was when it was last seen, and says so.
async function label(request, url) {
  const store = await caches.open("labels");
  try {
    const answer = await online(request);
    if (answer.ok && !answer.redirected) {
      const headers = new Headers(answer.headers);
      headers.set("kept-at", new Date().toISOString());
      const body = await answer.clone().text();
      await store.put(url.pathname, new Response(body, { headers }));
    }
    return answer;
  } catch {
    const found = await store.match(url.pathname);
    if (!found) return kept(`/${url.pathname.split("/")[1]}/limits/kept`);
    const at = new Date(found.headers.get("kept-at")).toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" });
    const told = `<p class="notice grave" role="status"><strong>Without signal:</strong> this is what was known of the device on ${at}. What it holds may have changed since.</p>`;
    const text = (await found.text()).replace('<div id="told"', `${told}<div id="told"`)
      .replace(' data-known="yes"', ""); // who is signed in by now is not known
    return new Response(text, { headers: { "content-type": "text/html; charset=utf-8" } });
  }
}
