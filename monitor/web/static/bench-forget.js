// Whoever leaves a shared phone leaves no page of the bench in it. Own entries that wait stay, and
// are sent when their person signs in again.
"use strict";

async function forgetPages() {
  const kept = (await caches.keys()).filter((one) => one.startsWith("laidup-bench-pages-"));
  await Promise.all(kept.map((one) => caches.delete(one)));
}

// Only over https or on this machine does a browser keep anything.
if ("caches" in globalThis) {
  const out = document.querySelectorAll("form[action*='sign-out']");
  for (const form of out) form.addEventListener("submit", forgetPages); // the server may not answer
  if (!out.length) forgetPages();
}
