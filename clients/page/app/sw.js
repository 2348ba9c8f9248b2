/**
 * Keeps the page itself for when the network is gone; never an answer of the service: what waits to be sent is the
 * page's own business. A new set of files is a new cache; the old one serves until the technician takes the new.
 */

/** @type {any} */
const worker = self;
worker.importScripts("/app/files.js"); // self.files: {version, paths}
const shelf = "rowdatum " + worker.files.version;

worker.addEventListener("install", (/** @type {any} */ e) => {
  e.waitUntil(caches.open(shelf).then((c) => c.addAll(worker.files.paths.map((/** @type {string} */ p) => new Request(p, { cache: "no-cache" })))));
});

worker.addEventListener("activate", (/** @type {any} */ e) => {
  e.waitUntil(caches.keys().then((all) => Promise.all(all.filter((n) => n !== shelf).map((n) => caches.delete(n)))).then(() => worker.clients.claim()));
});

worker.addEventListener("message", (/** @type {any} */ e) => {
  if (e.data === "take over") worker.skipWaiting();
});

worker.addEventListener("fetch", (/** @type {any} */ e) => {
  const path = new URL(e.request.url).pathname;
  if (e.request.method !== "GET" || !worker.files.paths.includes(path)) return;
  e.respondWith(caches.open(shelf).then((c) => c.match(path)).then((kept) => kept ?? fetch(e.request)));
});
