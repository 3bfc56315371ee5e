// "I have seen what changes" is said once, also where there is no signal: it waits on the phone as a
// shift check does. Without this the form is sent as it is.
"use strict";

(() => {
  const form = document.querySelector("form.acknowledge");
  const queue = globalThis.MarchstoneQueue;
  if (!form || !queue) return;

  function say(text) {
    const notice = Object.assign(document.createElement("p"), { className: "notice", textContent: text, tabIndex: -1 });
    notice.setAttribute("role", "status");
    form.replaceWith(notice);
    notice.focus();
  }

  form.addEventListener("submit", async (event) => {
    const station = form.elements.namedItem("station").value.trim();
    const button = form.querySelector("button");
    if (!station || button.disabled) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    button.disabled = true;
    let entry;
    try {
      entry = await queue.lock({ revision: Number(form.dataset.revision), station }, null, "seen");
    } catch {
      form.submit(); // the phone keeps nothing, so it goes now or not at all
      return;
    }
    await queue.send();
    const after = (await queue.all()).find((one) => one.key === entry.key);
    if (!after || after.state === "waiting") {
      say("Kept on this phone; it is sent as soon as there is signal and you are signed in.");
    } else if (after.state === "taken") {
      await queue.drop(entry.key);
      location.reload();
    } else {
      say(`Not taken: ${after.why.join("; ")}.`);
    }
  }, { capture: true });
})();
