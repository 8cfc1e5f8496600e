// Keeps the last page of each craft's bench, and of its spring list, so that it opens without a link, marked as kept.
"use strict";

const KEPT = "laidup-bench-pages-1";
const FOR_MS = 12 * 3600 * 1000; // an older page is of another day's plan
const PATIENCE_MS = 8000; // a link that says nothing for so long is none
const BENCH = /\/craft\/[^/]+\/(bench|spring)$/;
const PARTS = /\/static\/[^/]+$/;

self.addEventListener("install", (event) => event.waitUntil(self.skipWaiting()));
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

// The page that registered this one was not asked through it: it names what is to be kept.
self.addEventListener("message", (event) => {
  const { page, parts } = event.data;
  event.waitUntil(Promise.all([page, ...parts].map((one) => fresh(new Request(one)).catch(() => {}))));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== location.origin) return;
  if (request.mode === "navigate" && BENCH.test(address.pathname)) event.respondWith(benchPage(request));
  else if (PARTS.test(address.pathname)) event.respondWith(fresh(request).catch(() => kept(request)));
});

function keyOf(address) {
  return new Request(new URL(new URL(address).pathname, location.origin));
}

// Never a kept answer where the server gives one: a page of the record is of now, or says that it is not.
async function fresh(request) {
  const late = new Promise((_, refuse) => setTimeout(() => refuse(new Error("no link")), PATIENCE_MS));
  const answer = await Promise.race([fetch(request), late]);
  const cache = await caches.open(KEPT);
  const address = new URL(request.url);
  if (answer.ok && answer.status === 200 && !answer.redirected && !address.searchParams.has("found")) {
    await cache.put(keyOf(request.url), answer.clone());
  } else if (BENCH.test(address.pathname) && (answer.redirected || answer.type === "opaqueredirect" || answer.status === 403)) {
    await caches.delete(KEPT); // signed out: nothing of the yard stays in the phone but own drafts
  }
  return answer;
}

async function kept(request) {
  const found = await (await caches.open(KEPT)).match(keyOf(request.url));
  if (!found) throw new Error("nothing is kept");
  return found;
}

async function benchPage(request) {
  try {
    const answer = await fresh(request);
    if (answer.status < 500) return answer;
    return (await marked(request).catch(() => null)) || answer;
  } catch {
    return (await marked(request).catch(() => null)) || Response.error();
  }
}

async function marked(request) {
  const page = await kept(request);
  if (!(Date.now() - Date.parse(page.headers.get("date")) <= FOR_MS)) {
    await (await caches.open(KEPT)).delete(keyOf(request.url));
    return null;
  }
  const told = await page.text();
  const text = told.replace('<main id="state"', '<main id="state" data-kept="yes"');
  if (text === told) return null; // never old figures without their mark
  return new Response(text, { headers: page.headers });
}
