// Fetches the page again and puts the new state in place of the old; says so when it cannot.
"use strict";
(() => {
  const every = Number(document.body.dataset.renewS) * 1000;
  const stale = document.getElementById("stale");
  const lead = document.getElementById("lead");

  function put(fresh) {
    const old = document.getElementById("state");
    const state = fresh.getElementById("state");
    for (const details of old.querySelectorAll("details[open]")) {
      const again = fresh.getElementById(details.id);
      if (again) again.open = true;
    }
    const focused = document.activeElement && document.activeElement.closest("details[id]");
    const within = focused && old.contains(focused) ? focused.id : "";
    old.replaceWith(document.adoptNode(state));
    if (within) {
      const again = document.getElementById(within);
      if (again) again.querySelector("summary").focus({ preventScroll: true });
    }
    const said = fresh.getElementById("lead").textContent;
    if (lead.textContent !== said) lead.textContent = said; // announced only when it changes
    stale.hidden = true;
  }

  async function renew() {
    // Whoever is reading from the page with the mouse keeps what is marked.
    if (document.hidden || !document.getSelection().isCollapsed) return;
    try {
      const answer = await fetch(location.href, { signal: AbortSignal.timeout(20000) });
      if (!answer.ok) throw new Error(String(answer.status));
      put(new DOMParser().parseFromString(await answer.text(), "text/html"));
    } catch {
      if (stale.hidden) {
        stale.textContent = "This page could not be renewed. What it shows is of " +
          document.getElementById("asof").textContent + " and may no longer hold.";
        stale.hidden = false;
      }
    }
  }

  setInterval(renew, every);
  document.addEventListener("visibilitychange", renew);
})();
