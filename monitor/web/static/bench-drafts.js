// What waits in the phone: entries that are not on the record yet, their photos, what is half typed.
"use strict";

const NAME = "laidup-bench";
const WAITING = "waiting"; // one a draft, with its photos
const TYPED = "typed"; // one: what was typed or photographed and not sent

let opening = null;

function opened() {
  opening ||= new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore(WAITING, { keyPath: "draft" });
      asked.result.createObjectStore(TYPED);
    };
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
  return opening;
}

// Done once it is on the phone's disk, so that a restart of the phone finds it.
async function within(store, mode, act) {
  const db = await opened();
  return new Promise((resolve, reject) => {
    const held = db.transaction(store, mode, { durability: "strict" });
    const asked = act(held.objectStore(store));
    held.oncomplete = () => resolve(asked?.result);
    held.onerror = held.onabort = () => reject(held.error);
  });
}

export async function waitingDrafts() {
  const found = await within(WAITING, "readonly", (store) => store.getAll());
  return found.sort((one, other) => one.tapped - other.tapped);
}

export function keepWaiting(draft) {
  return within(WAITING, "readwrite", (store) => store.put(draft));
}

export function dropWaiting(draft) {
  return within(WAITING, "readwrite", (store) => store.delete(draft));
}

export function typedDraft() {
  return within(TYPED, "readonly", (store) => store.get(TYPED));
}

export function keepTyped(draft) {
  return within(TYPED, "readwrite", (store) => (draft ? store.put(draft, TYPED) : store.delete(TYPED)));
}

// Made in the phone, so that a form that is sent again is known for the one that it is.
export function newDraftId() {
  const some = crypto.getRandomValues(new Uint8Array(8));
  return `b-${[...some].map((one) => one.toString(16).padStart(2, "0")).join("")}`;
}
