// The form that logs a batch: what is saved is on the tablet first, then on its way to the server.
import { isoWithOffset } from "../clock.js";
import { confirmedIn, usualOf } from "./asked_back.js";
import { endCount, slipHolesFor } from "./counting.js";
import { entries, entryOf, keep, keepFact, onChange } from "./database.js";
import { newId } from "./ids.js";
import { endsSince } from "./news.js";
import { startPhotographing, takenPhotographs } from "./photographing.js";
import { lost, sendPhotograph } from "./photographs.js";
import { askPin } from "./pin.js";
import { askAtSave, clearFaults, drawnAt, notice, savedNews, showFaults, tellNothingNew } from "./page_words.js";
import { REFUSED, SAVED, WAITING, about, endWords, faultsOf, restOf, runOf } from "./rules.js";
import { network, sendAll, sendUnkept } from "./sender.js";
import { takeBack } from "./tray.js";
import { say } from "../words.js";

const WAIT_MS = 2500;
const JUST_MS = 20_000;
let noticed = null;
let savedAt = -Infinity;
let isBusy = false;
let isLeaving = false;

/** Hook the form; `afterwards(form, rest)` is called where the entry stayed on the tablet. */
export function startLogForm(form, doors, afterwards) {
  // A page that the tablet kept would give the same id to every batch.
  renewId(form);
  startPhotographing(form);
  if (document.querySelector(".news [data-saved]")) savedAt = performance.now();
  onChange(() => renewNotice(noticed));
  // Whoever comes back to this page by the browser's own button has not left it.
  addEventListener("pageshow", () => (isLeaving = false));
  form.addEventListener("submit", async (event) => {
    if (event.defaultPrevented) return;
    event.preventDefault();
    if (isBusy) return;
    isBusy = true;
    try {
      await save(form, doors, afterwards, event.submitter);
    } finally {
      isBusy = false;
    }
  });
}

/** Whether nothing is half typed, and nothing is being saved, that somebody could lose. */
export function isUntouched(form) {
  if (isSaving()) return false;
  const { holes, tap_end: end } = form.elements;
  return ["", holes.defaultValue, holes.dataset.offered].includes(holes.value) && end.value === "still good";
}

/** Whether a batch is on its way from the form, or the page on its way to the next one. */
export function isSaving() {
  return isBusy || isLeaving;
}

/** A new id for the next batch; one that goes on keeps its batch. */
export function renewId(form) {
  const { id, batch_id: batch } = form.elements;
  const isNew = batch.value === id.value;
  id.value = newId();
  if (isNew) batch.value = id.value;
}

// Save touched once more, when the form is empty again already: nobody has forgotten anything.
function isLateTouch(form) {
  const { holes, cutting_slips: slips, tap_end: end } = form.elements;
  const isEmpty = holes.value === "" && slips.value === "0" && end.value === "still good";
  return isEmpty && performance.now() - savedAt < JUST_MS;
}

async function save(form, doors, afterwards, submitter) {
  const raw = { ...Object.fromEntries(new FormData(form)), station: form.dataset.station };
  raw.device_time = isoWithOffset(new Date());
  raw.slip_holes = slipHolesFor(raw);
  if (isLateTouch(form)) return tellNothingNew(form);
  const faults = [...faultsOf(raw, doors.largest), ...(await faultsOfTap(raw))];
  if (faults.length) return showFaults(form, faults);
  clearFaults();
  const sure = submitter?.name === "sure" ? submitter.value : "";
  const confirmed = confirmedIn(form, raw, await usualOf(form), sure, askAtSave);
  if (confirmed === null) return undefined;
  raw.confirmed = confirmed;
  const pictures = raw.tap_end === "broken" ? await takenPhotographs() : [];
  const entry = made(form, raw, pictures);
  const rest = restOf(raw, raw.offered);
  try {
    await keepWith(entry, pictures);
  } catch {
    return saveUnkept(form, doors, entry, rest, pictures);
  }
  await Promise.race([sendAll(doors), new Promise((resolve) => setTimeout(resolve, WAIT_MS))]);
  const kept = await entryOf(entry.id);
  if (kept.state === REFUSED) return refused(form, kept.problems);
  await endCount(form);
  if (kept.state === SAVED) return goOn(form, entry, rest);
  noticed = kept.id;
  savedAt = performance.now();
  if (kept.needs_pin) noticePin(kept, doors);
  else if (kept.state === WAITING) notice(say("On this tablet: {entry}. Not yet sent.", { entry: about(entry) }), "warn", [say("Undo"), () => undo(entry, doors)], savedNews(kept.id));
  return afterwards(form, raw, rest);
}

// A tap that broke in a batch on this tablet cuts no more holes; what is saved anew is no news of itself.
async function faultsOfTap({ id, tap }) {
  const others = (await entries().catch(() => [])).filter((entry) => entry.id !== id);
  const end = endsSince(others, drawnAt()).get(tap);
  const what = end && say("{tap} came to its end in a batch on this tablet: {end}", { tap, end: endWords(end) });
  return end ? [{ field: "tap", what, remedy: say("choose the tap that is in the station now") }] : [];
}

// A tablet that has no room for a photograph may still have room for what happened.
async function keepWith(entry, pictures) {
  try {
    await keep(entry, pictures);
  } catch (error) {
    if (!pictures.length) throw error;
    const without = lost(say("this tablet has no room for it"));
    await keep({ ...entry, photographs: entry.photographs.map((one) => ({ ...one, ...without })) });
  }
}

function made(form, raw, pictures) {
  const told = {
    station: document.querySelector("#where strong").textContent,
    person: document.querySelector("#who strong").textContent,
  };
  return { id: raw.id, kind: "run", state: WAITING, sent: runOf(raw), at: Date.now(), attempts: 0, problems: [], told, photographs: pictures.map(({ id }) => ({ id, state: WAITING })), is_unconfirmed: form.dataset.unconfirmed === "yes" };
}

/** Say whose PIN an entry waits for, with the way to give it. */
export function noticePin(kept, doors) {
  const person = { code: kept.sent.person, name: kept.told.person || kept.sent.person, count: 1 };
  const give = [say("Give the PIN"), () => askPin(person, doors, () => sendAll(doors))];
  notice(say("On this tablet: {entry}. It waits for the PIN of {name}", { entry: about(kept), name: person.name }), "warn", give, savedNews(kept.id));
  document.querySelector(".told")?.setAttribute("data-pin-told", "");
}

// The line must not go on saying 'not yet sent' of what was.
async function renewNotice(id) {
  const kept = id ? await entryOf(id) : null;
  if (kept?.state === SAVED && document.querySelector(".told")) notice(say("Saved: {entry}.", { entry: about(kept) }), "good", null, savedNews(id));
  if (kept?.state === SAVED) noticed = null;
}

async function undo(entry, doors) {
  await takeBack(entry.id, () => sendAll(doors));
  const kept = await entryOf(entry.id);
  const isWaiting = kept.state === WAITING;
  const told = { entry: about(entry) };
  notice(isWaiting ? say("Will be taken back as soon as the server answers: {entry}.", told) : say("Taken back: {entry}.", told), "warn", null, `?undone=${entry.id}`);
}

// The server refused it: the form still says it, and whatever is put right replaces it on the tablet.
function refused(form, problems) {
  showFaults(form, problems);
  if (problems.some((problem) => problem.field === "id")) renewId(form);
}

function goOn(form, entry, rest) {
  isLeaving = true;
  const fields = { csrf_token: form.elements.csrf_token.value, run: entry.id, rest: rest ?? "" };
  const way = document.createElement("form");
  Object.assign(way, { method: "post", action: form.dataset.goOn });
  for (const [name, value] of Object.entries(fields)) way.append(hidden(name, value));
  document.body.append(way);
  keepFact(`place ${form.dataset.station}`, undefined).then(() => way.submit(), () => way.submit());
}

function hidden(name, value) {
  return Object.assign(document.createElement("input"), { type: "hidden", name, value });
}

// The tablet is full, or keeps nothing: the server is the only place, and the form stays as it is until it has answered.
async function saveUnkept(form, doors, entry, rest, pictures) {
  const told = await sendUnkept(doors, entry);
  if (told.state === SAVED) return (await areSent(form, doors, entry, pictures)) && goOn(form, entry, rest);
  if (told.state === REFUSED) return refused(form, told.problems);
  const why = network.answers ? say("the server did not take it") : say("the server does not answer");
  const what = say("this tablet can keep no more entries (its storage is full or closed), and {why}", { why });
  const remedy = say("keep this page open, make room on the tablet, then save again");
  return showFaults(form, [{ field: say("not saved"), what, remedy }]);
}

// Photographs that only this page has: the form stays until they are there, or are removed from it.
async function areSent(form, doors, entry, pictures) {
  for (const picture of pictures) {
    const told = await sendPhotograph(doors, entry.id, picture);
    if (told?.state === SAVED) continue;
    const what = told?.problems?.[0]?.what ?? say("the server did not take it");
    showFaults(form, [{ field: say("photograph"), what, remedy: say("save again to send it once more, or remove it: the batch itself is saved") }]);
    return false;
  }
  return true;
}
