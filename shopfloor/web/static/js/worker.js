// The service worker: keeps the operator's pages on the tablet, in the language chosen there. The server writes FILES,
// PAGE, HELP, PICTURES and LANGUAGE above this; a change of version or language changes them, so that the browser
// installs a new worker.

const FILES_CACHE = "shopfloor-files";
const PAGES_CACHES = "shopfloor-pages-";
const LOCK_SCREEN = new URL("./who", location.href).pathname;
const PATIENCE_MS = 8000;
const SCOPE = new URL("./", location.href).pathname;

addEventListener("install", (event) => event.waitUntil(install()));
addEventListener("activate", (event) => event.waitUntil(takeOver()));
// The page sends both messages when idle. A worker that was installed while the old one was busy may else wait for minutes.
addEventListener("message", (event) => {
  if (event.data === "activate") void skipWaiting();
  if (event.data === "keep-handbook") event.waitUntil(keepHandbook());
});
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
  if (!(await renew(PAGE))) throw new Error("the offline page cannot be fetched");
  await skipWaiting();
}

// The handbook's pages for the station, which nothing waits for: on weak Wi-Fi the entries go first.
async function keepHandbook() {
  const files = await caches.open(FILES_CACHE);
  const pages = await caches.open(PAGES_CACHES + LANGUAGE);
  for (const name of PICTURES) if (!(await files.match(name))) await files.add(name).catch(() => undefined);
  for (const address of HELP) if (!(await pages.match(address))) await renew(address);
}

// Delete old files only once every cached page is of the new version: a page must never lack its files.
async function takeOver() {
  await clients.claim();
  if (!(await renewPages())) return;
  const files = await caches.open(FILES_CACHE);
  for (const request of await files.keys()) {
    if (![...FILES, ...PICTURES].includes(new URL(request.url).pathname)) await files.delete(request);
  }
}

// Pages in other languages are deleted; a page that cannot be fetched again stays: better an old one than none.
async function renewPages() {
  const names = (await caches.keys()).filter((name) => name.startsWith(PAGES_CACHES));
  const kept = await Promise.all(names.map(async (name) => (await caches.open(name)).keys()));
  const addresses = new Set(kept.flat().map((request) => request.url));
  // The offline page is current: it came with this version's files.
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

// The response says which language it is in: this worker may be older than the choice.
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

// The start page and the station pages end with a slash; of the others only set-up cards, the lock screen and the
// handbook are cached.
function isKept(request, url) {
  const isOfStation = url.pathname.endsWith("/") || url.pathname.endsWith("/card");
  return request.method === "GET" && (isOfStation || url.pathname === LOCK_SCREEN || HELP.includes(url.pathname));
}

async function page(request, url) {
  const place = url.origin + url.pathname;
  const kept = isKept(request, url) ? await keptPage(place) : undefined;
  try {
    // Only a cached page may replace a slow answer: a form that is being posted must be waited for.
    const answer = await (kept ? soon(fetch(request)) : fetch(request));
    if (answer.status >= 502) throw new Error("the proxy answers, the server does not");
    // A tablet whose storage is full still shows what the server answered.
    if (isKept(request, url) && isWhole(answer)) await keep(place, answer.clone()).catch(() => undefined);
    return answer;
  } catch {
    return kept ?? (await keptPage(PAGE)) ?? Response.error();
  }
}

function soon(answer) {
  return Promise.race([answer, new Promise((_, reject) => setTimeout(reject, PATIENCE_MS, new Error("too slow")))]);
}
