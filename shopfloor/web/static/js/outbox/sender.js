// Sends the entries that wait on the tablet, in order, each until the server has acknowledged or refused it.
import { change, entries, entryOf, fact, forget, keepFact } from "./database.js";
import { REFUSED, SAVED, TAKEN_BACK, WAITING, photographsOf, settled, whenOf } from "./rules.js";
import { say } from "../words.js";

const TIMEOUT_MS = 8000;
const PICTURE_TIMEOUT_MS = 90_000;
const CLOCK_TIMEOUT_MS = 1500;
const MOST_KEPT = 30;
const LOCK = "shopfloor-outbox";
const unkept = new Map();
let turn = Promise.resolve();

/** Whether the server answered last time; null: not asked yet. */
export const network = { answers: null };
const listeners = new Set();

/** Call `listener` when the server starts or stops answering. */
export function onNetwork(listener) {
  listeners.add(listener);
}

function seen(answers) {
  if (network.answers === answers) return;
  network.answers = answers;
  for (const listener of listeners) listener();
}

async function ask(address, options, timeout) {
  const end = new AbortController();
  const timer = setTimeout(() => end.abort(), timeout);
  try {
    const answer = await fetch(address, { ...options, cache: "no-store", redirect: "manual", signal: end.signal });
    return { status: answer.status, body: await answer.json() };
  } catch {
    return null;
  } finally {
    clearTimeout(timer);
  }
}

function post(address, body) {
  const headers = { "Content-Type": "application/json" };
  return ask(address, { method: "POST", headers, body: JSON.stringify(body) }, TIMEOUT_MS);
}

/** Send a picture; it may take long if the Wi-Fi is weak. Resolves with the answer, or null. */
export function postPicture(address, body) {
  return ask(address, { method: "POST", headers: { "Content-Type": "image/jpeg" }, body }, PICTURE_TIMEOUT_MS);
}

/** The server's time in ms, or null where it does not answer. `navigator.onLine` says nothing about that. */
export async function serverNow(addresses, timeout = CLOCK_TIMEOUT_MS) {
  const answer = await ask(addresses.clock, {}, timeout);
  const now = answer?.status === 200 ? Date.parse(answer.body?.now) : NaN;
  seen(!Number.isNaN(now));
  return network.answers ? now : null;
}

/** The body of a GET, or null. */
export async function read(address) {
  const answer = await ask(address, {}, TIMEOUT_MS);
  return answer?.status === 200 ? answer.body : null;
}

/** The page at that address as the server draws it now, or null. */
export async function readPage(address) {
  try {
    const answer = await fetch(address, { cache: "no-store", redirect: "manual", signal: AbortSignal.timeout(TIMEOUT_MS) });
    return answer.status === 200 ? new DOMParser().parseFromString(await answer.text(), "text/html") : null;
  } catch {
    return null;
  }
}

/** Send a person's PIN for the entries that wait here; resolves with what is wrong, or null. */
export async function givePin(addresses, person, secret) {
  const answer = await post(addresses.pin, { person, secret });
  if (answer === null) return say("The server does not answer. The entries stay on this tablet.");
  if (answer.status === 401) return say("This tablet is no longer enrolled: ask a supervisor. The entries stay on it.");
  if (answer.status === 200) return null;
  return (answer.body?.problems ?? []).map((problem) => `${say("The PIN:")} ${problem.what}; ${problem.remedy}`).join(". ") || String(answer.body?.error);
}

/** Whether somebody is logged in; null where the server does not answer. */
export async function isLoggedIn(addresses) {
  const answer = await post(addresses.here, {});
  return answer?.status === 200 ? answer.body?.logged_in === true : null;
}

/** Send an entry that the tablet could not keep; resolves with what changes, which is nothing without an answer. */
export async function sendUnkept(addresses, entry) {
  const now = await serverNow(addresses);
  if (now === null) return {};
  // A repeat must be the same run, as it would be if the tablet had kept it.
  if (!unkept.has(entry.id)) unkept.set(entry.id, new Date(now).toISOString());
  const { change: told } = settled(entry, await post(addresses.runs, { ...entry.sent, when: unkept.get(entry.id) }));
  if (told.state === REFUSED) unkept.delete(entry.id);
  return told;
}

/** Send all that waits. One tab at a time where the browser can tell; two at once would do no harm. */
export function sendAll(addresses) {
  const pass = () => sendInOrder(addresses);
  turn = turn.then(() => (navigator.locks ? navigator.locks.request(LOCK, pass) : pass()));
  const mine = turn;
  turn = turn.catch(() => undefined);
  return mine;
}

async function sendInOrder(addresses) {
  const waiting = (await entries()).filter((entry) => entry.state === WAITING);
  if (!waiting.length) return;
  const now = await serverNow(addresses, TIMEOUT_MS);
  if (now === null) return;
  const began = performance.now();
  const clock = () => now + performance.now() - began;
  // Whatever must follow an entry that waits for a PIN waits too: everything of that person, and of that tap.
  const held = new Set();
  for (const { id, sent } of waiting) {
    if (held.has(`person ${sent.person}`) || held.has(`tap ${sent.tap}`)) continue;
    const entry = await begun(id, now);
    if (entry?.state !== WAITING) continue;
    if (!(await sendOne(addresses, entry, clock))) break;
    if ((await entryOf(id))?.needs_pin) held.add(`person ${sent.person}`).add(`tap ${sent.tap}`);
  }
  await forgetOld();
}

// The time is fixed before the first attempt, so that every attempt sends the same run.
async function begun(id, now) {
  const off = now - Date.now();
  const notBefore = (await fact("last sent")) ?? 0;
  const entry = await change(id, (kept) =>
    kept.state !== WAITING
      ? {}
      : {
          attempts: kept.attempts + 1,
          when: kept.when ?? new Date(whenOf(kept.at, Date.now(), now, notBefore)).toISOString(),
          clock_off: kept.when ? kept.clock_off : off,
        },
  );
  if (entry?.when) await keepFact("last sent", Math.max(notBefore, Date.parse(entry.when)));
  return entry;
}

async function sendOne(addresses, entry, clock) {
  const isTap = entry.kind === "tap";
  const answer = await post(isTap ? addresses.taps : addresses.runs, isTap ? entry.sent : { ...entry.sent, when: entry.when });
  const { change: told, goesOn } = settled(entry, answer);
  if (answer === null) seen(false);
  if (told.state === SAVED && entry.take_back) return undo(addresses, entry);
  const saved = { saved_at: clock(), open_batch: answer?.body?.open_batch };
  await change(entry.id, () => (told.state === SAVED ? { ...told, ...saved } : told));
  return goesOn;
}

async function undo(addresses, entry) {
  const answer = await post(`${addresses.runs}/${entry.id}/undo`, {});
  if (answer?.body?.undone) await change(entry.id, () => ({ state: TAKEN_BACK, problems: [], needs_pin: false }));
  else if (answer?.status === 401 && answer.body?.problems) await change(entry.id, () => ({ needs_pin: true }));
  else if (answer?.status === 409) await change(entry.id, () => ({ state: REFUSED, is_stored: true, problems: answer.body.problems }));
  else return false;
  return true;
}

// Delete the oldest entries that the server has; what it has not is never deleted.
async function forgetOld() {
  const isOpen = ({ state }) => state === WAITING || state === REFUSED;
  const isDone = (entry) => entry.state === TAKEN_BACK || (entry.state === SAVED && !photographsOf(entry).some(isOpen));
  await forget((await entries()).filter(isDone).slice(0, -MOST_KEPT));
}
