// The steps that the page has folded away, for when there is no link: each as it was read with the page.
"use strict";

export function stepTemplate(key) {
  return [...document.querySelectorAll("template[data-step]")].find((one) => one.dataset.step === key);
}

// A list with a form for each step: of a step that waits in this phone, or was sent from this page, it
// says so in place of the form, and the next step that can be ticked off stands open.
export function markList(drafts, recorded) {
  const steps = [...document.querySelectorAll(".spring > li")].filter((one) => one.querySelector("form.entry"));
  let closed = false;
  for (const one of steps) {
    const form = one.querySelector("form.entry");
    const step = form.elements.step.value;
    const sent = recorded.has(step);
    const waits = sent || drafts.some((draft) => draft.address === form.action && draft.step === step);
    closed ||= waits && !form.hidden && one.firstElementChild.open;
    if (waits !== form.hidden) one.firstElementChild.open = false;
    form.hidden = waits;
    one.querySelector(".waits").hidden = !waits || sent;
    one.querySelector(".sent").hidden = !sent;
  }
  const next = steps.find((one) => !one.querySelector("form.entry").hidden);
  if (closed && next) next.firstElementChild.open = true;
}

// The next step in the plan's order that does not wait in the phone already; none: undefined.
export function nextStep(step, waiting) {
  const order = [...document.querySelectorAll(".steps a")].map((one) => new URL(one.href).searchParams.get("step"));
  const later = [...order.slice(order.indexOf(step) + 1), ...order];
  return later.find((one) => one !== step && !waiting.has(one) && stepTemplate(one));
}

// Shows a folded step in place of the one in sight, which is folded away for a way back.
export function turnToStep(key) {
  const made = stepTemplate(key);
  if (!made) return false;
  const holder = document.getElementById("step");
  const place = document.getElementById("place");
  const before = holder.querySelector("section[data-step]");
  if (before && before.dataset.step !== key && !stepTemplate(before.dataset.step)) {
    const folded = document.createElement("template");
    folded.dataset.step = before.dataset.step;
    folded.dataset.place = place.textContent;
    folded.content.append(before.cloneNode(true));
    document.querySelector("main").append(folded);
  }
  holder.replaceChildren(made.content.cloneNode(true));
  place.textContent = made.dataset.place;
  return true;
}

// Has the service worker keep the page and its programs. Only where the browser has one, over https
// or on this machine; without it an open page still works on.
export async function keepPages(page, linked) {
  const address = document.querySelector("main")?.dataset.worker;
  if (!address || !("serviceWorker" in navigator)) return;
  const worker = await navigator.serviceWorker.register(address);
  const parts = ["", "-drafts", "-panel", "-photos", "-send", "-steps"].map((one) => new URL(`./bench${one}.js`, import.meta.url).href);
  for (const one of document.querySelectorAll("link[rel=icon]")) parts.push(one.href);
  const active = (await navigator.serviceWorker.ready).active || worker.active;
  if (linked) active?.postMessage({ page: `${location.origin}${page}`, parts });
}
