// Entries on this tablet that the server's figures do not include yet: pure rules, without network or clock.
import { SAVED, WAITING } from "./rules.js";

/** Entries that the server's figures as of `at` (in ms, by its clock) do not include: they wait, or were stored later. */
export function entriesSince(entries, at) {
  return entries.filter((entry) => (entry.state === WAITING && !entry.take_back) || (entry.state === SAVED && entry.saved_at > at));
}

/** How taps ended since then, by code. */
export function endsSince(entries, at) {
  const ended = entriesSince(entries, at).filter(({ sent }) => sent.tap_end && sent.tap_end !== "still good");
  return new Map(ended.map(({ sent }) => [sent.tap, sent.tap_end]));
}

/** Holes of these entries together. */
export function holesOf(entries) {
  return entries.reduce((sum, { sent }) => sum + (Number(sent.holes) || 0), 0);
}

/** The taps of the lists as they are now: without those that ended, with new ones from the box, with the holes since. */
export function tapsNow(lists, entries, station) {
  const at = Date.parse(lists.at);
  const since = entriesSince(entries, at);
  const ends = endsSince(entries, at);
  const listed = new Set(lists.taps.map((tap) => tap.code));
  const marked = since.filter(({ kind, sent }) => kind === "tap" && !listed.has(sent.tap)).map(({ sent }) => fromBox(lists, sent, station));
  return [...lists.taps, ...marked].filter((tap) => !ends.has(tap.code)).map((tap) => {
    const mine = since.filter(({ sent }) => sent.tap === tap.code);
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
 * @param {{last_batch: number | null, batch: string | null, left_on_job: number | null}} told as the server said
 * @param {object[]} since entries of the job that it did not include, oldest first
 */
export function soFarNow(told, since, station) {
  const left = told.left_on_job === null ? null : told.left_on_job - holesOf(since);
  const here = since.filter(({ sent }) => sent.station === station && sent.holes && !isConfirmed(sent));
  if (!here.length) return { ...told, left_on_job: left };
  const batch = here.at(-1).sent.batch_id;
  const before = batch === told.batch ? (told.last_batch ?? 0) : 0;
  return { batch, last_batch: before + holesOf(here.filter(({ sent }) => sent.batch_id === batch)), left_on_job: left };
}

// A number that had to be confirmed is not offered again.
function isConfirmed({ confirmed }) {
  return (confirmed ?? "").split(" ").includes("holes");
}
