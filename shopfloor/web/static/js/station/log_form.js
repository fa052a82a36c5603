// The form that logs a batch: what is saved is kept on the tablet first, then sent to the server.
import { isoWithOffset } from "../behaviours/device_time.js";
import { confirmedIn, usualOf } from "./asked_back.js";
import { endCount, slipHolesFor } from "./counting.js";
import { entries, entryOf, keep, keepFact, onChange } from "../outbox/database.js";
import { newId } from "../outbox/ids.js";
import { endsSince } from "../outbox/entries_since.js";
import { startPhotographing, takenPhotographs } from "./photographing.js";
import { lostPhotograph, sendPhotograph } from "../outbox/photographs.js";
import { askPin } from "../outbox/pin.js";
import { askAtSave, clearFaults, drawnAt, notice, savedNews, showFaults, showNothingNew } from "../messages.js";
import { REFUSED, SAVED, WAITING, describe, endWords } from "../outbox/rules.js";
import { faultsOf, restOf, runOf } from "./batch_rules.js";
import { element } from "../elements.js";
import { limits } from "../limits.js";
import { network, sendAll, sendUnkept } from "../outbox/sender.js";
import { takeBack } from "../outbox/tray.js";
import { say } from "../words.js";

const WAIT_MS = 2500;
let noticedId = null;
let savedAt = -Infinity;
let isBusy = false;
let isLeaving = false;

/** Hook the form; `afterwards(form, raw, rest)` is called where the entry stayed on the tablet. */
export function startLogForm(form, addresses, afterwards) {
  // A cached page would give the same id to every batch.
  renewId(form);
  startPhotographing(form);
  if (document.querySelector(".news [data-saved]")) savedAt = performance.now();
  onChange(() => renewNotice(noticedId));
  // The page may be shown again by the browser's Back button.
  addEventListener("pageshow", () => (isLeaving = false));
  form.addEventListener("submit", async (event) => {
    if (event.defaultPrevented) return;
    event.preventDefault();
    if (isBusy) return;
    isBusy = true;
    try {
      await save(form, addresses, afterwards, event.submitter);
    } finally {
      isBusy = false;
    }
  });
}

/** Whether the page can be replaced without losing anything: nothing is half typed, and nothing is being saved. */
export function isUnfilled(form) {
  if (isSaving()) return false;
  const { holes, tap_end: end } = form.elements;
  return ["", holes.defaultValue, holes.dataset.offered].includes(holes.value) && end.value === "still good";
}

/** Whether a batch is being saved, or the page is being left for the next one. */
export function isSaving() {
  return isBusy || isLeaving;
}

/** Give the form a new id; an unfinished batch keeps its batch id. */
export function renewId(form) {
  const { id, batch_id: batch } = form.elements;
  const isNew = batch.value === id.value;
  id.value = newId();
  if (isNew) batch.value = id.value;
}

// Save was touched again when the form was empty already: that is no forgotten number.
function isLateTouch(form) {
  const { holes, cutting_slips: slips, tap_end: end } = form.elements;
  const isEmpty = holes.value === "" && slips.value === "0" && end.value === "still good";
  return isEmpty && performance.now() - savedAt < 1000 * limits().just_saved_s;
}

async function save(form, addresses, afterwards, submitter) {
  const raw = { ...Object.fromEntries(new FormData(form)), station: form.dataset.station };
  raw.device_time = isoWithOffset(new Date());
  raw.slip_holes = slipHolesFor(raw);
  if (isLateTouch(form)) return showNothingNew(form);
  const faults = [...faultsOf(raw), ...(await faultsOfTap(raw))];
  if (faults.length) return showFaults(form, faults);
  clearFaults();
  const sure = submitter?.name === "sure" ? submitter.value : "";
  const confirmed = confirmedIn(form, raw, await usualOf(form), sure, askAtSave);
  if (confirmed === null) return undefined;
  raw.confirmed = confirmed;
  const pictures = raw.tap_end === "broken" ? await takenPhotographs() : [];
  const entry = newEntry(form, raw, pictures);
  const rest = restOf(raw, raw.offered);
  try {
    await keepWith(entry, pictures);
  } catch {
    return saveUnkept(form, addresses, entry, rest, pictures);
  }
  await Promise.race([sendAll(addresses), new Promise((resolve) => setTimeout(resolve, WAIT_MS))]);
  const kept = await entryOf(entry.id);
  if (kept.state === REFUSED) return refused(form, kept.problems);
  await endCount(form);
  if (kept.state === SAVED) return goOn(form, kept, rest);
  noticedId = kept.id;
  savedAt = performance.now();
  if (kept.needs_pin) noticePin(kept, addresses);
  else if (kept.state === WAITING) notice(say("On this tablet: {entry}. Not yet sent.", { entry: describe(entry) }), "warn", [say("Undo"), () => undo(entry, addresses)], savedNews(kept.id));
  return afterwards(form, raw, rest);
}

// A tap that ended in a batch on this tablet cuts no more holes; an entry that is saved again is not held against itself.
async function faultsOfTap({ id, tap }) {
  const others = (await entries().catch(() => [])).filter((entry) => entry.id !== id);
  const end = endsSince(others, drawnAt()).get(tap);
  const what = end && say("{tap} ended in a batch on this tablet: {end}", { tap, end: endWords(end) });
  return end ? [{ field: "tap", what, remedy: say("choose the tap that is in the station now") }] : [];
}

// A tablet that has no room for a photograph may still have room for the entry.
async function keepWith(entry, pictures) {
  try {
    await keep(entry, pictures);
  } catch (error) {
    if (!pictures.length) throw error;
    const without = lostPhotograph(say("this tablet has no room for it"));
    await keep({ ...entry, photographs: entry.photographs.map((one) => ({ ...one, ...without })) });
  }
}

function newEntry(form, raw, pictures) {
  const told = {
    station: document.querySelector("#where strong").textContent,
    person: document.querySelector("#who strong").textContent,
  };
  return { id: raw.id, kind: "run", state: WAITING, sent: runOf(raw), at: Date.now(), attempts: 0, problems: [], told, photographs: pictures.map(({ id }) => ({ id, state: WAITING })), is_unconfirmed: form.dataset.unconfirmed === "yes" };
}

/** Say whose PIN an entry waits for, with a button to give it. */
export function noticePin(kept, addresses) {
  const person = { code: kept.sent.person, name: kept.told.person || kept.sent.person, count: 1 };
  const give = [say("Give the PIN"), () => askPin(person, addresses, () => sendAll(addresses))];
  notice(say("On this tablet: {entry}. It waits for the PIN of {name}", { entry: describe(kept), name: person.name }), "warn", give, savedNews(kept.id));
  document.querySelector(".told")?.setAttribute("data-pin-told", "");
}

// Once the entry is saved, the news must no longer say 'not yet sent'.
async function renewNotice(id) {
  const kept = id ? await entryOf(id) : null;
  if (kept?.state === SAVED && document.querySelector(".told")) notice(say("Saved: {entry}.", { entry: describe(kept) }), "good", null, savedNews(id));
  if (kept?.state === SAVED) noticedId = null;
}

async function undo(entry, addresses) {
  await takeBack(entry.id, () => sendAll(addresses));
  const kept = await entryOf(entry.id);
  const isWaiting = kept.state === WAITING;
  const told = { entry: describe(entry) };
  notice(isWaiting ? say("Will be undone as soon as the server answers: {entry}.", told) : say("Undone: {entry}.", told), "warn", null, `?undone=${entry.id}`);
}

// The server refused it: the form still holds it, and what is saved next replaces it on the tablet.
function refused(form, problems) {
  showFaults(form, problems);
  if (problems.some((problem) => problem.field === "id")) renewId(form);
}

// Go to the next page. A tap that is still good, with no unfinished batch, leaves nothing to remember; else the server must
// know which batch continues, or that it ended.
function goOn(form, { id, sent, open_batch: isOpen }, rest) {
  isLeaving = true;
  const isDone = sent.tap_end === "still good" && isOpen === false;
  const leave = () => (isDone ? location.assign(`${location.pathname}?saved=${id}`) : postGoOn(form, id, rest));
  keepFact(`place ${form.dataset.station}`, undefined).then(leave, leave);
}

function postGoOn(form, run, rest) {
  const fields = { csrf_token: form.elements.csrf_token.value, run, rest: rest ?? "" };
  const inputs = Object.entries(fields).map(([name, value]) => element("input", { type: "hidden", name, value }));
  const post = element("form", { method: "post", action: form.dataset.goOn }, ...inputs);
  document.body.append(post);
  post.submit();
}

// The tablet's storage is full or closed: only the server can keep the entry, and the form stays until it has answered.
async function saveUnkept(form, addresses, entry, rest, pictures) {
  const told = await sendUnkept(addresses, entry);
  if (told.state === SAVED) return (await areSent(form, addresses, entry, pictures)) && goOn(form, entry, rest);
  if (told.state === REFUSED) return refused(form, told.problems);
  const why = network.answers ? say("the server did not accept it") : say("the server does not answer");
  const what = say("this tablet cannot keep any more entries (its storage is full or unavailable), and {why}", { why });
  const remedy = say("keep this page open, make room on the tablet, then save again");
  return showFaults(form, [{ field: say("not saved"), what, remedy }]);
}

// Photographs that only this page holds: the form stays until they are sent, or removed from it.
async function areSent(form, addresses, entry, pictures) {
  for (const picture of pictures) {
    const told = await sendPhotograph(addresses, entry.id, picture);
    if (told?.state === SAVED) continue;
    const what = told?.problems?.[0]?.what ?? say("the server did not accept it");
    showFaults(form, [{ field: say("photograph"), what, remedy: say("save again to send it once more, or remove it: the batch itself is saved") }]);
    return false;
  }
  return true;
}
