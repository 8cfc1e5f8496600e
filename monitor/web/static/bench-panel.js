// The panel on top of the bench: what waits in this phone, and whether there is a link.
"use strict";

export function line(text, tag = "p") {
  const made = document.createElement(tag);
  made.textContent = text;
  return made;
}

function button(words, act) {
  const made = line(words, "button");
  made.type = "button";
  made.className = "lesser";
  made.addEventListener("click", act);
  return made;
}

function linesOf(draft, { open, drop }) {
  // As the yard's pages write times, whatever the phone is set to.
  const at = new Date(draft.tapped).toLocaleString("en-GB", { weekday: "short", hour: "2-digit", minute: "2-digit" });
  const many = draft.photos?.length || 0;
  const photos = many ? `, ${many === 1 ? "1 photo" : `${many} photos`}` : "";
  const shown = [line(`${draft.name}: ${draft.job}${photos}, ${at}. ${draft.said || "It is sent once there is a link."}`)];
  if (draft.signIn) {
    const way = line("Sign in", "a");
    way.className = "button lesser";
    way.href = draft.address; // which leads to the door, and back
    shown.push(way);
  }
  if (draft.asks) shown.push(button("Open it", () => open(draft)));
  if (draft.asks || draft.said) {
    const question = `Throw away "${draft.job}" on ${draft.name}? It is on no record.`;
    shown.push(button("Throw it away", () => confirm(question) && drop(draft)));
  }
  return shown;
}

// What the page says of the yard is of when it was read: without a link its figures are not shown.
export function showPanel({ linked, stale, drafts, sent, acts }) {
  const panel = document.getElementById("waiting");
  const page = document.querySelector("main");
  for (const part of [page, document.querySelector("header")]) part.classList.toggle("unlinked", stale);
  panel.hidden = !stale && !drafts.length;
  panel.replaceChildren(...sent.map((one) => line(`Now on record: ${one.job}, ${one.name}.`)));
  if (stale && page.dataset.read) {
    const what = page.dataset.shows || "what the craft holds";
    const held = linked ? `Look at it anew for ${what}.` : `It shows ${what} once laidup answers.`;
    panel.append(line(`${linked ? "" : "No link. "}This page is as of ${page.dataset.read}. ${held}`));
  }
  if (drafts.length) {
    const many = drafts.length === 1 ? "1 entry waits" : `${drafts.length} entries wait`;
    panel.append(line(`${many} to be sent: only in this phone, not on the record.`, "h2"));
  }
  for (const draft of drafts) panel.append(...linesOf(draft, acts));
  if (linked && stale && !drafts.length) panel.append(button("Look at the page anew", acts.lookAnew));
}
