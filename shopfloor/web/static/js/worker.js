// Keeps the operator's pages on the tablet, in the language that was chosen there. FILES, PAGE, HELP, PICTURES and LANGUAGE
// are written in front of this by the server; a change of version or of language changes them, so that the browser
// installs the new worker.

const FILES_CACHE = "shopfloor-files";
const PAGES_CACHES = "shopfloor-pages-";
const LOCK_SCREEN = new URL("./who", location.href).pathname;
const PATIENCE_MS = 8000;
const SCOPE = new URL("./", location.href).pathname;

addEventListener("install", (event) => event.waitUntil(install()));
addEventListener("activate", (event) => event.waitUntil(takeOver()));
// A page asks again: a worker that was ready while the one before was busy is else kept waiting for minutes.
addEventListener("message", () => void skipWaiting());
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
  if (!(await renew(PAGE))) throw new Error("the page for the time without network cannot be had");
  await keepHelp(files);
  await skipWaiting();
}

// The handbook's pages for the station: good to have, and nothing else waits for one that cannot be had.
async function keepHelp(files) {
  const missing = await Promise.all(PICTURES.map(async (name) => ((await files.match(name)) ? null : name)));
  await Promise.all([...HELP.map(renew), ...missing.filter(Boolean).map((name) => files.add(name).catch(() => undefined))]);
}

// Old files go only once every kept page is of the new version: a page must never lack its own.
async function takeOver() {
  await clients.claim();
  if (!(await renewPages())) return;
  const files = await caches.open(FILES_CACHE);
  for (const request of await files.keys()) {
    if (![...FILES, ...PICTURES].includes(new URL(request.url).pathname)) await files.delete(request);
  }
}

// Pages in another language go with the old version; where one cannot be had anew it stays, for it is better than none.
async function renewPages() {
  const names = (await caches.keys()).filter((name) => name.startsWith(PAGES_CACHES));
  const kept = await Promise.all(names.map(async (name) => (await caches.open(name)).keys()));
  const addresses = new Set(kept.flat().map((request) => request.url));
  // The page in place of others is of this version: it came with the files.
  addresses.delete(new URL(PAGE, location.href).href);
  const renewed = await Promise.all([...addresses].map(renew));
  if (!renewed.every(Boolean)) return false;
  await Promise.all(names.filter((name) => name !== PAGES_CACHES + LANGUAGE).map((name) => caches.delete(name)));
  return true;
}

async function renew(address) {
  try {
    const answer = await fetch(address);
    if (!isWhole(answer)) return false;
    await keep(address, answer);
    return true;
  } catch {
    return false;
  }
}

// A page says itself which language it is in: this worker may be older than the choice.
async function keep(address, answer) {
  const pages = await caches.open(PAGES_CACHES + (answer.headers.get("Content-Language") ?? LANGUAGE));
  await pages.put(address, answer);
}

async function keptPage(address) {
  const own = await caches.match(address, { cacheName: PAGES_CACHES + LANGUAGE });
  return own ?? caches.match(address);
}

function isWhole(answer) {
  return answer.status === 200 && !answer.redirected && answer.type === "basic";
}

async function file(request) {
  const kept = await caches.match(request, { cacheName: FILES_CACHE });
  return kept ?? fetch(request);
}

// The start page and the pages of stations end with a slash; all others but the set-up cards, the lock screen and the
// handbook need the server.
function isKept(request, url) {
  const isOfStation = url.pathname.endsWith("/") || url.pathname.endsWith("/card");
  return request.method === "GET" && (isOfStation || url.pathname === LOCK_SCREEN || HELP.includes(url.pathname));
}

async function page(request, url) {
  const place = url.origin + url.pathname;
  const kept = isKept(request, url) ? await keptPage(place) : undefined;
  try {
    // Only a page that is here may come in place of a slow answer: a form that is on its way must be waited for.
    const answer = await (kept ? soon(fetch(request)) : fetch(request));
    if (answer.status >= 502) throw new Error("nobody behind the door");
    // A tablet that can keep no more still shows what the server answered.
    if (isKept(request, url) && isWhole(answer)) await keep(place, answer.clone()).catch(() => undefined);
    return answer;
  } catch {
    return kept ?? (await keptPage(PAGE)) ?? Response.error();
  }
}

function soon(answer) {
  return Promise.race([answer, new Promise((_, reject) => setTimeout(reject, PATIENCE_MS, new Error("too slow")))]);
}
