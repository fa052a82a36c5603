// The tablet's database (IndexedDB, which works on plain http too): entries in the order they were made, the image data of
// their photographs, and facts by name.

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

/** Open the database ahead of its first use; errors are reported then. */
export function openDatabase() {
  open().catch(() => undefined);
}

function open() {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 2);
    request.onupgradeneeded = ({ oldVersion }) => {
      if (oldVersion < 1) {
        const entries = request.result.createObjectStore("entries", { keyPath: "order", autoIncrement: true });
        entries.createIndex("id", "id", { unique: true });
        request.result.createObjectStore("facts");
      }
      request.result.createObjectStore("pictures");
    };
    request.onsuccess = () => {
      // Another tab with a newer version must not be blocked by this one.
      request.result.onversionchange = () => request.result.close();
      resolve(request.result);
    };
    request.onerror = () => reject(request.error);
  });
  opening.catch(() => (opening = null));
  return opening;
}

// Runs `work` in one transaction; resolves with what it put into `out` once everything is on disk, not before.
async function within(names, mode, work) {
  const transaction = (await open()).transaction(names, mode, { durability: "strict" });
  return new Promise((resolve, reject) => {
    const out = {};
    transaction.oncomplete = () => resolve(out.value);
    transaction.onabort = () => reject(transaction.error ?? new DOMException("not kept", "AbortError"));
    transaction.onerror = () => reject(transaction.error);
    try {
      work(...[names].flat().map((name) => transaction.objectStore(name)), out);
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

/** Keep a new entry, or a new version of a refused one in its old place of the order, together with its pictures. */
export async function keep(entry, pictures = []) {
  await within(["entries", "pictures"], "readwrite", (store, shelf) => {
    const before = store.index("id").get(entry.id);
    before.onsuccess = () => {
      const { order, photographs = [] } = before.result ?? {};
      store.put(order ? { ...entry, order } : entry);
      for (const { id } of photographs) if (!entry.photographs?.some((one) => one.id === id)) shelf.delete(id);
    };
    for (const { id, bytes } of pictures) shelf.put(bytes, id);
  });
  tellAll();
}

/** Change the entry of that id by a function of its current value, in one transaction; resolves with the new value. */
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

/** Change one photograph of an entry; image data that the server has is deleted in the same transaction. */
export async function changePhotograph(entryId, id, told, isSaved = false) {
  await within(["entries", "pictures"], "readwrite", (store, shelf) => {
    const before = store.index("id").get(entryId);
    before.onsuccess = () => {
      if (!before.result) return;
      const photographs = before.result.photographs.map((one) => (one.id === id ? { ...one, ...told } : one));
      store.put({ ...before.result, photographs });
    };
    if (isSaved) shelf.delete(id);
  });
  tellAll();
}

/** The bytes of a photograph that the server does not have yet. */
export function pictureOf(id) {
  return within("pictures", "readonly", (shelf, out) => into(out, shelf.get(id)));
}

/** Delete entries that the server has. */
export function forget(done) {
  return within(["entries", "pictures"], "readwrite", (store, shelf) => {
    for (const { order, photographs = [] } of done) {
      store.delete(order);
      for (const { id } of photographs) shelf.delete(id);
    }
  });
}

/** A fact by its name. */
export function fact(name) {
  return within("facts", "readonly", (store, out) => into(out, store.get(name)));
}

/** The names of all facts. */
export function factNames() {
  return within("facts", "readonly", (store, out) => into(out, store.getAllKeys()));
}

/** Keep a fact; undefined deletes it. */
export function keepFact(name, value) {
  return within("facts", "readwrite", (store) => (value === undefined ? store.delete(name) : store.put(value, name)));
}
