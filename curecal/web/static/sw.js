// Pages of a job that were taken along are shown where there is no connection, marked as kept.
// Nothing gets in here by itself: `outbox.js` takes along the crew's pages, never an owner's.
"use strict";
const PATIENCE_MS = 8000;
self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET" || new URL(request.url).origin !== self.location.origin) return;
  event.respondWith(answer(request));
});

async function answer(request) {
  const kept =
    (await caches.match(request.url)) || (await caches.match(request.url, { ignoreSearch: true }));
  if (!kept) return fetch(request);
  let late;
  const patience = new Promise((_done, failed) => { late = setTimeout(failed, PATIENCE_MS); });
  try {
    const fresh = await Promise.race([fetch(request), patience]);
    // A link that was taken back leaves nothing behind.
    if (fresh.status === 404 && request.mode === "navigate") await forget(request.url);
    return fresh;
  } catch {
    const { headers } = kept;
    if (!(headers.get("Content-Type") || "").startsWith("text/html")) return kept;
    const page = (await kept.text()).replace("<html ", `<html data-kept="${headers.get("Date")}" `);
    return new Response(page, { headers });
  } finally {
    clearTimeout(late);
  }
}

async function forget(url) {
  const home = new URL(url).pathname.split("/").slice(0, 3).join("/");
  const pages = await caches.open("pages");
  for (const one of await pages.keys()) {
    if (new URL(one.url).pathname.startsWith(`${home}/`)) await pages.delete(one);
  }
}
