// SPDX-License-Identifier: MIT
// Keeps the page's own files under their version. Data never goes through here: it is asked of the server, and what
// must survive without one is kept by the page itself.

/** @type {any} the worker's own globals, which the page's types do not know */
const worker = self;
const VERSION = /*version*/ 'dev';
const FILES = /*files*/ ['/'];
const CACHE = `clumpwise-${VERSION}`;

worker.addEventListener('install', (/** @type {any} */ event) => {
  event.waitUntil(
    caches
      .open(CACHE)
      .then((cache) => cache.addAll(FILES.map((file) => new Request(file, { cache: 'reload' }))))
      .then(() => worker.skipWaiting()),
  );
});

worker.addEventListener('activate', (/** @type {any} */ event) => {
  const drop = (/** @type {string[]} */ names) =>
    Promise.all(
      names.filter((name) => name.startsWith('clumpwise-') && name !== CACHE).map((name) => caches.delete(name)),
    );
  event.waitUntil(
    caches
      .keys()
      .then(drop)
      .then(() => worker.clients.claim()),
  );
});

worker.addEventListener('fetch', (/** @type {any} */ event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== 'GET' || url.origin !== worker.location.origin) return;
  if (url.pathname === '/' && event.request.mode === 'navigate') event.respondWith(freshFirst(event.request));
  else if (FILES.includes(url.pathname))
    event.respondWith(caches.match(url.pathname, { cacheName: CACHE }).then((kept) => kept ?? fetch(event.request)));
});

/**
 * The page from the server while there is one, so that a new version arrives; from the cache when there is none.
 * @param {Request} request
 */
async function freshFirst(request) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), 4000);
  try {
    const answer = await fetch(request.url, { signal: stop.signal, credentials: 'same-origin' });
    if (answer.ok) return answer;
    throw new Error(String(answer.status));
  } catch {
    const kept = await caches.match('/', { cacheName: CACHE });
    return kept ?? Response.error();
  } finally {
    clearTimeout(timer);
  }
}
