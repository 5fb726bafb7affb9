// Keeps the page and its plan for when the computer is away. Browsers run this over a secure link
// only; what it keeps goes as soon as the token is no longer good.
"use strict";

const KEPT = "bench sheet";
const PATHS = ["/", "/api/sheet"];

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (event) => {
  const path = new URL(event.request.url).pathname;
  if (event.request.method === "GET" && PATHS.includes(path)) event.respondWith(newest(event.request, path));
});

async function newest(request, path) {
  const cache = await caches.open(KEPT);
  try {
    const answer = await fetch(request);
    if (answer.ok) await cache.put(path, answer.clone());
    if (answer.status === 401) await caches.delete(KEPT);
    return answer;
  } catch (error) {
    const kept = await cache.match(path);
    if (kept) return kept;
    throw error;
  }
}
