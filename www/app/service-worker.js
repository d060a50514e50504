/**
 * Caches the page's files, so that it works without a connection. `gridproof site` puts `SITE`, the version and the
 * names of all files, above this text and writes both as sw.js at the root of the site.
 *
 * A version is cached completely or not at all; a newer one waits until the user accepts it. Other requests
 * (a hosted model) go to the network and are never cached.
 */

const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));
const scope = new URL(worker.registration.scope);
/** Other sites of the same origin have caches too. */
const family = `gridproof ${scope.pathname} `;
const mine = family + SITE.version;
const files = new Set(SITE.files);

/** @param {string} name */
const address = (name) => new URL(name.split("/").map(encodeURIComponent).join("/"), scope).href;

async function fill() {
  const cache = await caches.open(mine);
  await cache.addAll(SITE.files.map((name) => new Request(address(name), { cache: "no-cache", credentials: "same-origin" })));
}

async function takeUp() {
  const former = (await caches.keys()).filter((name) => name.startsWith(family) && name !== mine);
  await Promise.all(former.map((name) => caches.delete(name)));
  // The first visit is enough.
  await worker.clients.claim();
}

/**
 * The name of a file of the page, or null for anything else.
 * @param {Request} request
 */
function nameOf(request) {
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== scope.origin || !url.pathname.startsWith(scope.pathname)) return null;
  let name = "";
  try {
    name = decodeURIComponent(url.pathname.slice(scope.pathname.length));
  } catch {
    return null;
  }
  if (name === "index.html") name = "";
  return files.has(name) ? name : null;
}

/** @param {string} name */
async function kept(name) {
  const cache = await caches.open(mine);
  // Browsers may evict a site's cache.
  return (await cache.match(address(name))) ?? fetch(address(name));
}

worker.addEventListener("install", (event) => event.waitUntil(fill()));
worker.addEventListener("activate", (event) => event.waitUntil(takeUp()));
worker.addEventListener("message", ({ data }) => {
  if (data === "take over") void worker.skipWaiting();
});
worker.addEventListener("fetch", (event) => {
  const name = nameOf(event.request);
  if (name !== null) event.respondWith(kept(name));
});
