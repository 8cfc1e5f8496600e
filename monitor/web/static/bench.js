// Keeps what is entered at the bench in the phone until it is on the record, and says which it is.
"use strict";

const WAITING = "laidup-bench-waiting";
const TYPED = "laidup-bench-typed";
const AGAIN_MS = 10000; // between two tries while something waits
const GIVE_UP_MS = 15000; // a link that says nothing for so long is none
const TYPED_FOR_MS = 12 * 3600 * 1000; // what was typed and never sent is offered so long
let sending = false;

function kept(name) {
  try {
    const found = JSON.parse(localStorage.getItem(name) || "null");
    return name === WAITING ? (Array.isArray(found) ? found : []) : found;
  } catch {
    return name === WAITING ? [] : null;
  }
}

// False where this browser keeps nothing: then the form is sent as without this script.
function keep(name, value) {
  try {
    localStorage.setItem(name, JSON.stringify(value));
    return true;
  } catch {
    return false;
  }
}

function put(draft) {
  return keep(WAITING, [...kept(WAITING).filter((one) => one.draft !== draft.draft), draft]);
}

function drop(draft) {
  keep(WAITING, kept(WAITING).filter((one) => one.draft !== draft));
}

function person(page) {
  return page.querySelector("main[data-by]")?.dataset.by || "";
}

async function ask(address, options) {
  const ended = new AbortController();
  const late = setTimeout(() => ended.abort(), GIVE_UP_MS);
  try {
    const answer = await fetch(address, { ...options, signal: ended.signal, cache: "no-store" });
    return { answer, page: new DOMParser().parseFromString(await answer.text(), "text/html") };
  } finally {
    clearTimeout(late);
  }
}

// Sends one draft. Only the server's own page after an entry tells that it is on the record.
async function send(draft) {
  const first = await ask(draft.address, {}); // a fresh token, for the server may have started anew
  const token = first.page.querySelector("input[name=form_token]")?.value;
  if (first.answer.status === 404) return { asks: "The craft is not in the yard any more." };
  if (!first.answer.ok) return { waits: "laidup does not answer." };
  if (!token || !person(first.page)) return { waits: "Sign in, and it is sent." };
  if (person(first.page) !== draft.by) return { waits: "It is sent when whoever entered it signs in." };
  const body = new URLSearchParams(draft.fields);
  body.set("form_token", token);
  body.set("waited", String(Math.max(0, Math.floor((Date.now() - draft.tapped) / 1000))));
  const { answer, page } = await ask(draft.address, { method: "POST", body });
  const entered = new URL(answer.url).searchParams.get("entered") === draft.draft;
  if (answer.ok && entered) return { entered: answer.url };
  if (answer.status === 422) return { asks: "laidup asks back before it enters this.", page };
  if (answer.status >= 500) return { waits: "laidup does not answer." };
  return { waits: "laidup refused it for now: sign in anew." };
}

function line(text, tag = "p") {
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

function showWaiting(sent = []) {
  const panel = document.getElementById("waiting");
  if (!panel) return;
  const drafts = kept(WAITING);
  panel.hidden = !drafts.length && !sent.length;
  panel.replaceChildren(...sent.map((one) => line(`Now on record: ${one.job}, ${one.name}.`)));
  if (drafts.length) {
    const many = drafts.length === 1 ? "1 entry waits" : `${drafts.length} entries wait`;
    panel.append(line(`${many} to be sent: only in this phone, not on the record.`, "h2"));
  }
  for (const draft of drafts) {
    const at = new Date(draft.tapped).toLocaleString([], { weekday: "short", hour: "2-digit", minute: "2-digit" });
    panel.append(line(`${draft.name}: ${draft.job}, ${at}. ${draft.said || "It is sent once there is a link."}`));
    if (draft.asks) panel.append(button("Open it", () => open(draft)));
    if (draft.asks || draft.said) {
      panel.append(button("Throw it away", () => {
        if (confirm(`Throw away "${draft.job}" on ${draft.name}? It is on no record.`)) {
          drop(draft.draft);
          showWaiting();
        }
      }));
    }
  }
}

// The server's own page of a form that it refused, with what was typed still in it.
function turnTo(page, draft) {
  drop(draft.draft); // it stands in the page again, and is kept again once it is sent
  history.replaceState(null, "", draft.address);
  document.title = page.title;
  document.body.replaceWith(document.adoptNode(page.body));
  keep(TYPED, { ...draft, tapped: Date.now() });
  showWaiting();
  document.querySelector("[role=alert]")?.scrollIntoView();
}

async function open(draft) {
  try {
    const found = await send(draft);
    if (found.entered) {
      drop(draft.draft);
      location.assign(found.entered);
    } else if (found.page) turnTo(found.page, draft);
    else note(draft, found);
  } catch {
    note(draft, { waits: "There is no link to laidup now." });
  }
}

function note(draft, found) {
  put({ ...draft, said: found.asks || found.waits, asks: Boolean(found.asks) });
  showWaiting();
}

async function sendWaiting() {
  if (sending) return;
  sending = true;
  const sent = [];
  try {
    for (const draft of kept(WAITING).filter((one) => !one.asks)) {
      try {
        const found = await send(draft);
        if (found.entered) {
          drop(draft.draft);
          sent.push(draft);
        } else note(draft, found);
      } catch {
        note(draft, { waits: "There is no link to laidup now." });
        break;
      }
    }
  } finally {
    sending = false;
    if (sent.length || kept(WAITING).length) showWaiting(sent);
  }
}

function draftOf(form, submitter) {
  const fields = [...new FormData(form, submitter)].filter(([name]) => name !== "form_token");
  return {
    draft: form.elements.draft.value,
    step: form.elements.step?.value || "",
    address: form.action,
    by: person(document),
    name: form.dataset.name,
    job: form.dataset.job,
    fields: fields.map(([name, value]) => [name, String(value)]),
    tapped: Date.now(),
  };
}

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (form.id !== "entry" || sending) {
    if (form.id === "entry") event.preventDefault();
    return;
  }
  const draft = draftOf(form, event.submitter);
  if (!put(draft)) return; // as without this script
  event.preventDefault();
  sending = true;
  const tapped = event.submitter || form.querySelector("button.next");
  const words = tapped.textContent;
  tapped.textContent = "Sending …";
  try {
    const found = await send(draft);
    if (found.entered) {
      drop(draft.draft);
      keep(TYPED, null);
      location.assign(found.entered);
      return;
    }
    if (found.page) turnTo(found.page, draft);
    else note(draft, found);
  } catch {
    note(draft, { waits: "There is no link to laidup now." });
  } finally {
    sending = false;
    tapped.textContent = words;
    if (kept(WAITING).length) document.getElementById("waiting")?.scrollIntoView();
  }
});

// What was typed and not sent yet outlives a page that is loaded again, on its own craft and step.
document.addEventListener("input", (event) => {
  const form = event.target.closest("#entry");
  if (form) keep(TYPED, draftOf(form, null));
});

function restoreTyped() {
  const form = document.getElementById("entry");
  const typed = kept(TYPED);
  if (!form || !typed || typed.address !== form.action || typed.by !== person(document)) return;
  if (typed.step !== (form.elements.step?.value || "") || Date.now() - typed.tapped > TYPED_FOR_MS) return;
  if (document.querySelector("[role=alert]") || location.search.includes("same=")) return;
  if (kept(WAITING).some((one) => one.draft === typed.draft)) return;
  for (const [name, value] of typed.fields) {
    if (name === "act" || name === "step") continue;
    for (const field of form.querySelectorAll(`[name="${CSS.escape(name)}"]`)) {
      if (field.type === "radio" || field.type === "checkbox") field.checked = field.value === value;
      else if (field.tagName !== "BUTTON") field.value = value;
    }
  }
}

restoreTyped();
showWaiting();
sendWaiting();
addEventListener("online", sendWaiting);
document.addEventListener("visibilitychange", () => document.hidden || sendWaiting());
setInterval(() => kept(WAITING).some((one) => !one.asks) && sendWaiting(), AGAIN_MS);
