// Keeps an open page true: asks every second or two whether it still is, puts the new state in
// place of the old one, and says so when it cannot. Place, folds and focus stay; what changed since
// the reader last looked gets a rule in the margin. Without this script the page reads all the same.
"use strict";
(() => {
  const every = Number(document.body.dataset.renewS) * 1000;
  const stale = document.getElementById("stale");
  const lead = document.getElementById("lead");
  const shelf = "laidup-seen:" + location.pathname;
  const bookmark = "laidup-place:" + location.pathname;
  let etag = "";
  let asking = false;

  const lines = (root) => [...root.querySelectorAll("[data-news]")];
  const keyOf = (line) => line.id || (line.querySelector("details[id]") || line).id;
  const said = (line) => line.textContent.replace(/\s+/g, " ").trim();

  // What the page said when the reader last had it in sight; null: never.
  let seen = null;
  try {
    seen = JSON.parse(localStorage.getItem(shelf));
  } catch { /* a browser that keeps nothing marks nothing */ }
  if (!seen) rememberAll();

  function rememberAll() {
    const at = document.getElementById("asof");
    seen = { at: at ? at.textContent : "", said: {} };
    for (const line of lines(document)) seen.said[keyOf(line)] = said(line);
    try {
      localStorage.setItem(shelf, JSON.stringify(seen));
    } catch { /* as above */ }
  }

  function markNews() {
    let count = 0;
    for (const line of lines(document)) {
      const isNew = seen.said[keyOf(line)] !== said(line);
      line.classList.toggle("news", isNew);
      count += isNew;
    }
    const since = document.getElementById("since");
    if (since) {
      since.textContent = count
        ? `Since you looked at ${seen.at}, ${count} ${count === 1 ? "line has" : "lines have"} changed.`
        : "";
    }
  }

  // The topmost line that begins in sight, and where it stands: it stays there, whatever changes
  // above it. What begins above the sight would not do: it may change between there and the sight.
  function anchor() {
    const shown = [...document.querySelectorAll("#state [id]")].filter(
      (one) => one.offsetHeight && one.getBoundingClientRect().bottom > 0);
    const line = shown.find((one) => one.getBoundingClientRect().top >= 0) || shown[0];
    return line && { id: line.id, top: line.getBoundingClientRect().top };
  }

  function put(fresh) {
    const old = document.getElementById("state");
    const state = fresh.getElementById("state");
    if (!old || !state) throw new Error("another page came");
    const place = anchor();
    for (const details of old.querySelectorAll("details[open]")) {
      const again = fresh.getElementById(details.id);
      if (again) again.open = true;
    }
    const active = document.activeElement;
    const held = active && old.contains(active) ? active.closest("[id]") : null;
    const within = held ? held.id : "";
    const typed = old.querySelector("#find"); // what somebody is typing stays
    old.replaceWith(document.adoptNode(state));
    const box = typed && document.getElementById("find");
    if (box) box.replaceWith(typed);
    if (within) {
      const again = document.getElementById(within);
      const target = again && (again.querySelector("summary, button") || again);
      if (target) target.focus({ preventScroll: true });
    }
    if (place) {
      const now = document.getElementById(place.id);
      if (now) window.scrollBy({ top: now.getBoundingClientRect().top - place.top, behavior: "instant" });
    }
    const told = fresh.getElementById("lead").textContent;
    if (lead.textContent !== told) lead.textContent = told; // announced only when it changes
    stale.hidden = true;
    markNews();
  }

  async function take(answer) {
    if (!answer.ok) throw new Error(String(answer.status));
    etag = answer.headers.get("ETag") || "";
    put(new DOMParser().parseFromString(await answer.text(), "text/html"));
  }

  const isSignIn = (answer) => answer.redirected && new URL(answer.url).pathname.endsWith("/sign-in");

  // The session has ended: what the reader had open and in sight is kept for when they are back.
  function signInAgain(address) {
    const open = [...document.querySelectorAll("details[open][id]")].map((one) => one.id);
    try {
      sessionStorage.setItem(bookmark, JSON.stringify({ open, anchor: anchor() }));
    } catch { /* they come back to the top */ }
    location.assign(address);
  }

  function takeUpPlace() {
    let kept = null;
    try {
      kept = JSON.parse(sessionStorage.getItem(bookmark));
      sessionStorage.removeItem(bookmark);
    } catch { /* as above */ }
    if (!kept) return;
    for (const id of kept.open) {
      const details = document.getElementById(id);
      if (details) details.open = true;
    }
    const line = kept.anchor && document.getElementById(kept.anchor.id);
    if (line) window.scrollBy({ top: line.getBoundingClientRect().top - kept.anchor.top, behavior: "instant" });
  }

  async function renew() {
    // Whoever is reading from the page with the mouse keeps what is marked.
    if (asking || document.hidden || !document.getSelection().isCollapsed) return;
    asking = true;
    try {
      // Nobody asked for this: by the header it does not keep an unattended phone signed in.
      const headers = { "Laidup-Renewal": "1" };
      if (etag) headers["If-None-Match"] = etag;
      const answer = await fetch(location.href, { headers, signal: AbortSignal.timeout(20000) });
      if (isSignIn(answer)) signInAgain(answer.url);
      else if (answer.status === 304) stale.hidden = true;
      else await take(answer);
    } catch {
      if (stale.hidden) {
        stale.textContent = "This page could not be renewed. What it shows is of " +
          document.getElementById("asof").textContent + " and may no longer hold.";
        stale.hidden = false;
      }
    } finally {
      asking = false;
    }
  }

  // A tap acts where it stands, without leaving the place; without scripts the form does the same.
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (form.method !== "post" || !form.closest("#state") || !event.submitter) return;
    event.preventDefault();
    const body = new URLSearchParams(new FormData(form, event.submitter));
    event.submitter.disabled = true;
    try {
      const answer = await fetch(form.action, { method: "POST", body });
      if (isSignIn(answer)) signInAgain(answer.url);
      else if (answer.ok) await take(answer);
      else document.documentElement.innerHTML = new DOMParser().parseFromString(
        await answer.text(), "text/html").documentElement.innerHTML;
    } catch {
      event.submitter.disabled = false;
      stale.textContent = "This did not reach laidup. Try again; until then nobody has been told.";
      stale.hidden = false;
    }
  });

  markNews();
  takeUpPlace();
  setInterval(renew, every);
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) rememberAll();
    else renew();
  });
  window.addEventListener("pagehide", rememberAll);
})();
