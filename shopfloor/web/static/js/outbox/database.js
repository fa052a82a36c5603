// What this tablet keeps: entries in the order of their making, and facts by name. Works on plain http too.

const NAME = "shopfloor-tablet";
const CHANGED = "shopfloor-outbox";
let opening = null;
const channel = "BroadcastChannel" in globalThis ? new BroadcastChannel(CHANGED) : null;
const listeners = new Set();

/** Call `listener` after every change, in this tab or another. */
export function onChange(listener) {
  listeners.add(listener);
}

channel?.addEventListener("message", tellHere);

function tellHere() {
  for (const listener of listeners) listener();
}

function tellAll() {
  tellHere();
  channel?.postMessage("");
}

function open() {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      const entries = request.result.createObjectStore("entries", { keyPath: "order", autoIncrement: true });
      entries.createIndex("id", "id", { unique: true });
      request.result.createObjectStore("facts");
    };
    request.onsuccess = () => {
      // Another tab with a newer version must not wait for this one.
      request.result.onversionchange = () => request.result.close();
      resolve(request.result);
    };
    request.onerror = () => reject(request.error);
  });
  opening.catch(() => (opening = null));
  return opening;
}

// Runs `work` in one transaction and resolves with what it put into `out` once that is on the disk, not before.
async function within(store, mode, work) {
  const transaction = (await open()).transaction(store, mode, { durability: "strict" });
  return new Promise((resolve, reject) => {
    const out = {};
    transaction.oncomplete = () => resolve(out.value);
    transaction.onabort = () => reject(transaction.error ?? new DOMException("not kept", "AbortError"));
    transaction.onerror = () => reject(transaction.error);
    try {
      work(transaction.objectStore(store), out);
    } catch (error) {
      reject(error);
    }
  });
}

function into(out, request) {
  request.onsuccess = () => (out.value = request.result);
}

/** Every entry, oldest first. */
export function entries() {
  return within("entries", "readonly", (store, out) => into(out, store.getAll()));
}

/** The entry of that id, if it is here. */
export function entryOf(id) {
  return within("entries", "readonly", (store, out) => into(out, store.index("id").get(id)));
}

/** Keep a new entry, or a new version of one that was refused, in its old place of the order. */
export async function keep(entry) {
  await within("entries", "readwrite", (store) => {
    const before = store.index("id").get(entry.id);
    before.onsuccess = () => store.put(before.result ? { ...entry, order: before.result.order } : entry);
  });
  tellAll();
}

/** Change the entry of that id by a function of what it is now, undisturbed by other tabs; resolves with the new one. */
export async function change(id, how) {
  const changed = await within("entries", "readwrite", (store, out) => {
    const before = store.index("id").get(id);
    before.onsuccess = () => {
      if (!before.result) return;
      out.value = { ...before.result, ...how(before.result) };
      store.put(out.value);
    };
  });
  tellAll();
  return changed;
}

/** Let go of entries that the server has. */
export function forget(orders) {
  return within("entries", "readwrite", (store) => orders.forEach((order) => store.delete(order)));
}

/** A fact by its name. */
export function fact(name) {
  return within("facts", "readonly", (store, out) => into(out, store.get(name)));
}

/** Every fact's name. */
export function factNames() {
  return within("facts", "readonly", (store, out) => into(out, store.getAllKeys()));
}

/** Keep a fact; undefined forgets it. */
export function keepFact(name, value) {
  return within("facts", "readwrite", (store) => (value === undefined ? store.delete(name) : store.put(value, name)));
}
