// What this tablet knows and the server did not when it told a figure: rules, without network or clock.
import { SAVED, WAITING } from "./rules.js";

/** Entries that what the server told at `at` (in ms, by its clock) does not hold: they wait, or were stored later. */
export function newsSince(entries, at) {
  return entries.filter((entry) => (entry.state === WAITING && !entry.take_back) || (entry.state === SAVED && entry.saved_at > at));
}

/** How taps came to their end since then, by code. */
export function endsSince(entries, at) {
  const ended = newsSince(entries, at).filter(({ sent }) => sent.tap_end && sent.tap_end !== "still good");
  return new Map(ended.map(({ sent }) => [sent.tap, sent.tap_end]));
}

/** Holes of these entries, which may be those of one tap or one job. */
export function holesOf(entries) {
  return entries.reduce((sum, { sent }) => sum + (Number(sent.holes) || 0), 0);
}

/** The taps of the list as they are now: without those that ended, with those from the box, and the holes since. */
export function tapsNow(lists, entries, station) {
  const at = Date.parse(lists.at);
  const news = newsSince(entries, at);
  const ends = endsSince(entries, at);
  const listed = new Set(lists.taps.map((tap) => tap.code));
  const marked = news.filter(({ kind, sent }) => kind === "tap" && !listed.has(sent.tap)).map(({ sent }) => fromBox(lists, sent, station));
  return [...lists.taps, ...marked].filter((tap) => !ends.has(tap.code)).map((tap) => {
    const mine = news.filter(({ sent }) => sent.tap === tap.code);
    return { ...tap, at, since: holesOf(mine), is_here: tap.is_here || mine.some(({ sent }) => sent.station === station) };
  });
}

function fromBox(lists, { tap, tap_type: type, station: place }, station) {
  const kind = lists.tap_types.find((each) => each.code === type);
  return { code: tap, tap_type: type, thread: kind?.thread, holes: 0, is_here: place === station };
}

/**
 * What the log will say of a job's batches at a station once these entries are in it.
 *
 * @param {{last_batch: number | null, batch: string | null, left_on_job: number | null}} told as the server told it
 * @param {object[]} news entries of the job that it did not know, oldest first
 */
export function soFarNow(told, news, station) {
  const left = told.left_on_job === null ? null : told.left_on_job - holesOf(news);
  const here = news.filter(({ sent }) => sent.station === station && sent.holes && !isConfirmed(sent));
  if (!here.length) return { ...told, left_on_job: left };
  const batch = here.at(-1).sent.batch_id;
  const before = batch === told.batch ? (told.last_batch ?? 0) : 0;
  return { batch, last_batch: before + holesOf(here.filter(({ sent }) => sent.batch_id === batch)), left_on_job: left };
}

// What had to be confirmed is not offered as last time.
function isConfirmed({ confirmed }) {
  return (confirmed ?? "").split(" ").includes("holes");
}

/** The number that is offered next, {holes, isLeft}, or null, by the server's rule. */
export function offeredPortion({ last_batch: last, left_on_job: left }, largest) {
  const isOver = left !== null && left <= 0;
  if (last !== null && (left === null || isOver || last <= left)) return { holes: last, isLeft: false };
  return left === null || isOver || left > largest ? null : { holes: left, isLeft: true };
}
