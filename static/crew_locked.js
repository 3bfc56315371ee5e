// Whoever is asked for the crew code keeps no limits from before on the phone.
"use strict";

(async () => {
  if (!("caches" in window)) return;
  const agency = location.pathname.split("/")[1];
  for (const name of ["kept", "labels"]) {
    const store = await caches.open(name);
    for (const request of await store.keys()) {
      if (new URL(request.url).pathname.startsWith(`/${agency}/`)) await store.delete(request);
    }
  }
  document.documentElement.dataset.locked = "yes";
})();
