// States of an entry and what changes them: pure rules, no network, no clock.
import { say, sayCount } from "../words.js";

export const WAITING = "waiting";
export const REFUSED = "refused";
export const SAVED = "saved";
export const TAKEN_BACK = "taken back";
export const ASIDE = "put aside";

// Answers after which the same entry is sent again later.
const LATER = new Set([401, 408, 425, 429, 502, 503, 504]);

/**
 * When the work was done, by the server's clock: a tablet's own may be wrong, but it shows how long ago it was.
 *
 * All times in ms. `notBefore` is the time of the entry before: the order of the work stays, whatever the clock did.
 */
export function whenOf(at, deviceNow, serverNow, notBefore) {
  const age = deviceNow - at;
  return Math.min(serverNow, Math.max(age < 0 ? serverNow : serverNow - age, notBefore));
}

/**
 * What an answer means for an entry: how it changes, and whether the next one may be sent.
 *
 * Only an answer in the server's own form counts; anything else (a Wi-Fi log-in page, a proxy's page, silence) is no answer.
 */
export function settled(entry, answer) {
  if (answer === null) return { change: {}, goesOn: false };
  const { status, body } = answer;
  // The person who made it is no longer logged in: it waits for the PIN, and other people's entries need not wait for it.
  if (status === 401 && Array.isArray(body?.problems)) return { change: { needs_pin: true }, goesOn: true };
  if (LATER.has(status)) return { change: {}, goesOn: false };
  if (status === 200 || status === 201) {
    const isStored = body?.id === entry.id && body.stored === true;
    return isStored ? { change: { state: SAVED, problems: [], needs_pin: false }, goesOn: true } : { change: {}, goesOn: false };
  }
  if (!Array.isArray(body?.problems)) return { change: {}, goesOn: false };
  if (status >= 500) return { change: { problems: [said(body)] }, goesOn: true };
  const problems = body.problems.length ? body.problems : [said(body)];
  return { change: { state: REFUSED, status, problems }, goesOn: true };
}

/** Photographs of an entry that have a state of their own; those of an undone or set-aside entry go with it. */
export function photographsOf({ state, photographs = [] }) {
  return [WAITING, REFUSED, SAVED].includes(state) ? photographs : [];
}

function said(body) {
  return { field: "entry", what: String(body.error), remedy: String(body.remedy) };
}

/** The entry in words: '48 holes on T0012, still good'. */
export function describe(entry) {
  if (entry.kind === "tap") return say("New tap {tap} ({kind}) from the box", { tap: entry.sent.tap, kind: entry.sent.tap_type });
  const { holes, tap, tap_end: end, cutting_slips: slips } = entry.sent;
  const told = sayCount(Number(holes), "{n} hole on {tap}, {end}", "{n} holes on {tap}, {end}", { tap, end: endWords(end) });
  return Number(slips) ? `${told}, ${sayCount(Number(slips), "{n} cutting slip", "{n} cutting slips")}` : told;
}

/** How a tap ended, in words for the middle of a sentence. */
export function endWords(end) {
  const words = {
    "still good": say("Still good"),
    worn: say("Worn"),
    chipped: say("Chipped"),
    broken: say("Broken"),
    "retired early": say("Changed in time"),
  };
  return (words[end] ?? end).toLowerCase();
}
