// Keeps the operator's pages on the tablet. FILES and PAGE are written in front of this by the server; a change of
// version changes FILES, so that the browser installs the new worker.

const FILES_CACHE = "shopfloor-files";
const PAGES_CACHE = "shopfloor-pages";
const LOCK_SCREEN = new URL("./who", location.href).pathname;
const PATIENCE_MS = 8000;
const SCOPE = new URL("./", location.href).pathname;

addEventListener("install", (event) => event.waitUntil(install()));
addEventListener("activate", (event) => event.waitUntil(takeOver()));
addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (url.origin !== location.origin) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(file(event.request));
  else if (event.request.mode === "navigate" && url.pathname.startsWith(SCOPE)) event.respondWith(page(event.request, url));
});

async function install() {
  const files = await caches.open(FILES_CACHE);
  const missing = await Promise.all(FILES.map(async (name) => ((await files.match(name)) ? null : name)));
  await files.addAll(missing.filter(Boolean));
  await (await caches.open(PAGES_CACHE)).add(PAGE);
  await skipWaiting();
}

// Old files go only once every kept page is of the new version: a page must never lack its own.
async function takeOver() {
  await clients.claim();
  if (!(await renewPages())) return;
  const files = await caches.open(FILES_CACHE);
  for (const request of await files.keys()) {
    if (!FILES.includes(new URL(request.url).pathname)) await files.delete(request);
  }
}

async function renewPages() {
  const pages = await caches.open(PAGES_CACHE);
  // The page in place of others is of this version: it came with the files.
  const kept = (await pages.keys()).filter((request) => new URL(request.url).pathname !== PAGE);
  const renewed = await Promise.all(kept.map((request) => renew(pages, request.url)));
  return renewed.every(Boolean);
}

async function renew(pages, address) {
  try {
    const answer = await fetch(address);
    if (!isWhole(answer)) return false;
    await pages.put(address, answer);
    return true;
  } catch {
    return false;
  }
}

function isWhole(answer) {
  return answer.status === 200 && !answer.redirected && answer.type === "basic";
}

async function file(request) {
  const kept = await caches.match(request, { cacheName: FILES_CACHE });
  return kept ?? fetch(request);
}

// The start page and the pages of stations end with a slash; all others but the set-up cards and the lock screen need the server.
function isKept(request, url) {
  return request.method === "GET" && (url.pathname.endsWith("/") || url.pathname.endsWith("/card") || url.pathname === LOCK_SCREEN);
}

async function page(request, url) {
  const place = url.origin + url.pathname;
  const kept = isKept(request, url) ? await caches.match(place, { cacheName: PAGES_CACHE }) : undefined;
  try {
    // Only a page that is here may come in place of a slow answer: a form that is on its way must be waited for.
    const answer = await (kept ? soon(fetch(request)) : fetch(request));
    if (answer.status >= 502) throw new Error("nobody behind the door");
    if (isKept(request, url) && isWhole(answer)) await (await caches.open(PAGES_CACHE)).put(place, answer.clone());
    return answer;
  } catch {
    return kept ?? (await caches.match(PAGE)) ?? Response.error();
  }
}

function soon(answer) {
  return Promise.race([answer, new Promise((_, reject) => setTimeout(reject, PATIENCE_MS, new Error("too slow")))]);
}
