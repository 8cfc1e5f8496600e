// Sends one draft of the bench. Only the server's page after an entry tells that it is on record.
"use strict";

const GIVE_UP_MS = 15000; // a link that says nothing for so long is none
const PHOTOS_GIVE_UP_MS = 150000;
const NO_ANSWER = "laidup does not answer.";

export async function askPage(address, options = {}, patience = GIVE_UP_MS) {
  const ended = new AbortController();
  const late = setTimeout(() => ended.abort(), patience);
  try {
    const answer = await fetch(address, { ...options, signal: ended.signal, cache: "no-store" });
    return { answer, page: new DOMParser().parseFromString(await answer.text(), "text/html") };
  } finally {
    clearTimeout(late);
  }
}

export function personOf(page) {
  return page.querySelector("main[data-by]")?.dataset.by || "";
}

function bodyOf(draft, token) {
  const fields = [
    ...draft.fields,
    ["form_token", token],
    ["waited", String(Math.max(0, Math.floor((Date.now() - draft.tapped) / 1000)))],
  ];
  if (!draft.photos?.length) return new URLSearchParams(fields);
  const body = new FormData();
  for (const [name, value] of fields) body.append(name, value);
  for (const photo of draft.photos) body.append("photo", photo, "photo.jpg");
  return body;
}

// What became of it: {entered}, {asks, page} where a person has to look, {waits} to try later.
export async function sendDraft(draft) {
  const first = await askPage(draft.address); // a fresh token: the server may have started anew
  const token = first.page.querySelector("input[name=form_token]")?.value;
  if (first.answer.status === 404) return { asks: "The craft is not in the yard any more." };
  if (!first.answer.ok) return { waits: NO_ANSWER };
  if (!token || !personOf(first.page)) return { waits: "Sign in, and it is sent.", signIn: true };
  if (personOf(first.page) !== draft.by) return { waits: "It is sent when whoever entered it signs in." };
  const patience = draft.photos?.length ? PHOTOS_GIVE_UP_MS : GIVE_UP_MS;
  const sent = { method: "POST", body: bodyOf(draft, token) };
  const { answer, page } = await askPage(draft.address, sent, patience);
  const entered = new URL(answer.url).searchParams.get("entered") === draft.draft;
  if (answer.ok && entered) return { entered: answer.url };
  if (answer.status === 422) return { asks: "laidup asks back before it enters this.", page };
  if (answer.status === 413) return { asks: "Its photos are too large to send." };
  if (answer.status >= 500) return { waits: NO_ANSWER };
  return { waits: "laidup refused it for now: sign in anew.", signIn: true };
}
