// The bench and the spring list in a phone: what is entered waits in it until it is on record, and the
// page says which it is.
import { dropWaiting, keepTyped, keepWaiting, newDraftId, typedDraft, waitingDrafts } from "./bench-drafts.js";
import { line, showPanel } from "./bench-panel.js";
import { PhotoField } from "./bench-photos.js";
import { keepPages, markList, nextStep, stepTemplate, turnToStep } from "./bench-steps.js";
import { askPage, personOf, sendDraft } from "./bench-send.js";

const AGAIN_MS = 10000; // between two tries while something waits
const LOOK_MS = 6000; // for the page of a step; then this page shows it as it was read
const TYPED_FOR_MS = 12 * 3600 * 1000; // what was typed and never sent is offered so long
const NO_LINK = "There is no link to laidup now.";
let sending = false;
let linked = !document.querySelector("main[data-kept]");
let stale = !linked; // the yard's figures on this page may hold no more
let field = null; // the photos of the form in sight

const main = () => document.querySelector("main");
const recorded = new Set(); // steps that were sent from this page and are on record now
// The form in sight; of a list with a form for each step, that of the step.
const entryForm = (step) =>
  [...document.querySelectorAll("form.entry")].find((one) => step === undefined || (one.elements.step?.value || "") === step);

const pageAddress = () => `${location.pathname}${new URLSearchParams(location.search).get("job") ? "?job=tonight" : ""}`;

async function showWaiting(sent = []) {
  const acts = {
    open: openDraft,
    drop: async (draft) => {
      await dropWaiting(draft.draft);
      await showWaiting();
    },
    lookAnew: () => location.assign(pageAddress()),
  };
  stale ||= !linked || sent.length > 0;
  const drafts = await waitingDrafts().catch(() => []);
  for (const one of sent) if (one.address === entryForm()?.action) recorded.add(one.step);
  markList(drafts, recorded);
  showPanel({ linked, stale, drafts, sent, acts });
}

// The server's own page in place of this one: of a step, or of a form that it refused.
function turnTo(page, address) {
  history.replaceState(null, "", address);
  document.title = page.title;
  document.body.replaceWith(document.adoptNode(page.body));
  linked = true;
  stale = false;
}

async function askBack(found, draft) {
  await dropWaiting(draft.draft); // it stands in the page again, and is kept again once it is sent
  turnTo(found.page, draft.address);
  const kept = document.querySelector("input[name=kept_photos]");
  const photos = kept ? [] : draft.photos || [];
  await keepTyped({ ...draft, photos, tapped: Date.now() });
  watchForm(photos);
  await showWaiting();
  // To the field that it is about; what no field shows stands on top.
  const general = document.querySelector("[role=alert] p + p");
  const where = general ? null : document.querySelector(".complaint");
  (where || document.querySelector("[role=alert]"))?.scrollIntoView({ block: "center" });
}

async function openDraft(draft) {
  try {
    const found = await sendDraft(draft);
    if (found.entered) {
      await dropWaiting(draft.draft);
      location.assign(found.entered + draft.then);
    } else if (found.page) await askBack(found, draft);
    else await noteOn(draft, found);
  } catch {
    await lostLink(draft);
  }
}

async function noteOn(draft, found) {
  await keepWaiting({ ...draft, said: found.asks || found.waits, asks: Boolean(found.asks), signIn: Boolean(found.signIn) });
  await showWaiting();
}

async function lostLink(draft) {
  linked = false;
  await noteOn(draft, { waits: NO_LINK });
}

async function sendWaiting() {
  if (sending) return;
  sending = true;
  const sent = [];
  try {
    for (const draft of (await waitingDrafts()).filter((one) => !one.asks)) {
      try {
        const found = await sendDraft(draft);
        linked = true;
        if (found.entered) {
          await dropWaiting(draft.draft);
          sent.push(draft);
        } else await noteOn(draft, found);
      } catch {
        await lostLink(draft);
        break;
      }
    }
  } finally {
    sending = false;
    await showWaiting(sent);
  }
}

function draftOf(form, submitter) {
  const fields = [...new FormData(form, submitter)].filter(([name, value]) => name !== "form_token" && typeof value === "string");
  return {
    draft: form.elements.draft.value,
    step: form.elements.step?.value || "",
    address: form.action,
    by: personOf(document),
    name: form.dataset.name,
    job: form.dataset.job,
    then: form.dataset.then || "", // the place of the page that shows what comes next
    fields,
    photos: [...(field?.photos || [])],
    tapped: Date.now(),
  };
}

// After an entry that waits: the next step that neither is on record nor waits, as this page knows it.
async function goOn(step) {
  const holder = document.getElementById("step");
  if (!holder) {
    document.getElementById("waiting").scrollIntoView(); // a list has opened its next step by itself
    return;
  }
  const here = (await waitingDrafts()).filter((one) => one.address === entryForm()?.action);
  const left = nextStep(step, new Set(here.map((one) => one.step)));
  if (left) showStep(left);
  else holder.replaceChildren(line("All steps of this page are entered. They wait in this phone."));
  document.getElementById("waiting").scrollIntoView();
}

function showStep(key) {
  if (!turnToStep(key)) return;
  const form = entryForm();
  if (form) form.elements.draft.value = newDraftId(); // this page may be shown more than once
  watchForm([]);
}

function watchForm(photos) {
  const form = entryForm();
  field = form?.querySelector("input[type=file]") ? new PhotoField(form, photos, () => keepTyped(draftOf(form, null))) : null;
}

async function submitEntry(form, submitter) {
  const draft = draftOf(form, submitter);
  try {
    await keepWaiting(draft);
  } catch {
    form.dataset.plain = "yes"; // this browser keeps nothing: it is sent as without this script
    form.requestSubmit(submitter);
    return;
  }
  if (!linked) {
    await keepTyped(null);
    await showWaiting();
    await goOn(draft.step);
    sendWaiting();
    return;
  }
  sending = true;
  const tapped = submitter || form.querySelector("button.next");
  const words = tapped.textContent;
  tapped.textContent = "Sending …";
  try {
    const found = await sendDraft(draft);
    if (found.entered) {
      await dropWaiting(draft.draft);
      await keepTyped(null);
      location.assign(found.entered + draft.then);
    } else if (found.page) await askBack(found, draft);
    else await noteOn(draft, found);
  } catch {
    await keepTyped(null);
    await lostLink(draft);
    await goOn(draft.step);
  } finally {
    sending = false;
    tapped.textContent = words;
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("form.entry") || form.dataset.plain) return;
  event.preventDefault();
  if (!sending) submitEntry(form, event.submitter);
});

// A step of this page opens from the server, and without a link as this page knows it.
document.addEventListener("click", async (event) => {
  const way = event.target.closest?.("a[href*='step=']");
  const key = way && new URL(way.href).searchParams.get("step");
  if (!way || way.href.includes("same=") || !stepTemplate(key)) return;
  if (linked && navigator.serviceWorker?.controller) return; // which answers without a link, too
  event.preventDefault();
  if (linked) {
    try {
      const found = await askPage(way.href, {}, LOOK_MS);
      if (found.answer.ok && personOf(found.page)) {
        location.assign(way.href);
        return;
      }
    } catch {
      linked = false;
    }
  }
  showStep(key);
  await showWaiting();
});

// What was typed and not sent yet outlives a page that is loaded again, on its own craft and step.
document.addEventListener("input", (event) => {
  const form = event.target.closest("form.entry");
  if (form && event.target.type !== "file") keepTyped(draftOf(form, null)).catch(() => {});
});

async function restoreTyped() {
  const asked = new URLSearchParams(location.search);
  const typed = await typedDraft().catch(() => null);
  const fits = typed && typed.by === personOf(document) && Date.now() - typed.tapped < TYPED_FOR_MS;
  if (fits && !linked && typed.step) showStep(typed.step);
  else if (!linked && asked.get("step")) showStep(asked.get("step"));
  const waiting = await waitingDrafts().catch(() => []);
  const now = entryForm();
  if (!linked && now && waiting.some((one) => one.address === now.action && one.step === now.elements.step?.value)) {
    await goOn(now.elements.step.value);
  }
  const form = (fits && entryForm(typed.step)) || entryForm();
  const same = form && fits && typed.address === form.action && typed.step === (form.elements.step?.value || "");
  const waits = waiting.some((one) => one.draft === typed?.draft);
  if (!same || waits || document.querySelector("[role=alert]") || asked.has("same")) {
    watchForm([]);
    return;
  }
  for (const [name, value] of typed.fields) {
    if (name === "act" || name === "step") continue;
    for (const one of form.querySelectorAll(`[name="${CSS.escape(name)}"]`)) {
      if (one.type === "radio" || one.type === "checkbox") one.checked = one.value === value;
      else if (one.tagName !== "BUTTON" && one.type !== "file") one.value = value;
    }
  }
  form.closest("details")?.setAttribute("open", "");
  watchForm(typed.photos || []);
}

addEventListener("online", sendWaiting);
document.addEventListener("visibilitychange", () => document.hidden || sendWaiting());
setInterval(async () => (await waitingDrafts().catch(() => [])).some((one) => !one.asks) && sendWaiting(), AGAIN_MS);
await restoreTyped();
await showWaiting();
keepPages(pageAddress(), linked).catch(() => {});
await sendWaiting();
