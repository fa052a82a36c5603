// Batch rules shared with the server: what is plainly wrong, what is queried, what is sent, what is left of it.
// tests/batch_rules.py, tests/numbers_typed.py and tests/numbers_doubted.py hold both to the same cases.
import { limits } from "../limits.js";
import { quoted, say, sayCount } from "../words.js";

const OF_A_BREAK = ["broke_at_hole", "part_fate", "cause"];
const SENT = [
  "id", "batch_id", "person", "station", "job", "tap", "device_time", "rpm", "holes", "cutting_slips", "slip_holes", "tap_end",
  "broke_at_hole", "part_fate", "cause", "depth_control", "lubricant", "note", "confirmed",
];

function isWhole(text, low, high) {
  return /^\d{1,18}$/.test(text) && Number(text) >= low && Number(text) <= high;
}

// A whole number with something between its thousands.
const IN_GROUPS = /^[1-9]\d{0,2}([., \u00a0\u202f']\d{3})+$/;

function faultsOfCount(raw, field, low, high) {
  const text = (raw[field] ?? "").trim();
  if (isWhole(text, low, high)) return [];
  const whole = IN_GROUPS.test(text) ? text.replace(/\D/g, "") : "";
  if (isWhole(whole, low, high)) {
    const remedy = say("write {whole} if that is meant, or another whole number, with digits only", { whole });
    return [{ field, what: say("{text} can be read in two ways", { text: quoted(text) }), remedy }];
  }
  const what = text === "" ? say("it is missing") : say("{value} is not possible", { value: quoted(text) });
  return [{ field, what, remedy: say("give a whole number from {low} to {high}", { low, high }) }];
}

/** What is plainly wrong with what was typed, so that nothing unusable is kept; the server judges the rest. */
export function faultsOf(raw, { largest_batch: largest, fastest_rpm: fastest, most_slips_a_hole: slips } = limits()) {
  const count = (field, low, high) => faultsOfCount(raw, field, low, high);
  const faults = [...count("holes", 1, largest), ...count("rpm", 1, fastest)];
  if ((raw.cutting_slips ?? "").trim() !== "") faults.push(...count("cutting_slips", 0, slips * largest));
  return raw.tap_end === "broken" ? [...faults, ...faultsOfBreak(raw, largest, count)] : faults;
}

// Of a broken tap it must be said at which hole, or that nobody knows.
function faultsOfBreak(raw, largest, count) {
  const faults = [];
  const isGiven = (raw.broke_at_hole ?? "").trim() !== "";
  if (isGiven === Boolean(raw.hole_not_known)) {
    const what = isGiven ? say("a hole is given and 'Not known' is chosen") : say("it is missing");
    faults.push({ field: "broke_at_hole", what, remedy: say("give the hole, or choose 'Not known'") });
  } else if (isGiven) {
    faults.push(...count("broke_at_hole", 1, isWhole(raw.holes, 1, largest) ? Number(raw.holes) : largest));
  }
  if (!raw.part_fate) faults.push({ field: "part_fate", what: say("it is missing"), remedy: say("choose one") });
  return faults;
}

/**
 * Implausible numbers, queried before they are kept.
 *
 * `usual` holds `batch`, `left` and `rpm` where they are known, and the number of holes that the page `offered`.
 */
export function doubtsOf(raw, usual, { many_times: many, holes_a_slip: holes, speed_times: times } = limits()) {
  const run = runOf(raw);
  const speed = oddSpeed(Number(run.rpm), usual.rpm ?? null, times);
  return [...oddHoles(Number(raw.holes), usual, many), ...oddSlips(run, holes), ...speed];
}

function oddHoles(entered, { batch = null, left = null, offered = 0 }, manyTimes) {
  const answer = sayCount(entered, "{n} hole", "{n} holes");
  const isMany = batch !== null && entered > manyTimes * batch && entered !== offered;
  if (isMany) return [doubt("holes", entered, say("{entered}? Usual on this job: {usual}", { entered, usual: batch }), answer)];
  // Once more was made than planned, somebody has confirmed that the job continues.
  const isBeyond = left !== null && left >= 0 && entered > left;
  return isBeyond ? [doubt("holes", entered, say("{entered}? Left to make on this job: {usual}", { entered, usual: left }), answer)] : [];
}

function oddSlips(run, holesASlip) {
  const [entered, holes] = [Number(run.cutting_slips ?? 0), Number(run.holes)];
  if (run.slip_holes || holesASlip * entered <= holes) return [];
  const question = say("{entered} on {usual} holes? That is more than one in two", { entered, usual: holes });
  return [doubt("cutting_slips", entered, question, sayCount(entered, "{n} cutting slip", "{n} cutting slips"))];
}

function oddSpeed(entered, last, times) {
  if (last === null || (last <= times * entered && entered <= times * last)) return [];
  return [doubt("rpm", entered, say("{entered}? Last time: {usual}", { entered, usual: last }), say("{n} rpm", { n: entered }))];
}

function doubt(field, entered, question, answer) {
  return { field, question, answer, mark: `${field}=${entered}` };
}

/** The run as it is sent: the holes that the tap made, and how it broke only where it did. */
export function runOf(raw) {
  const isBroken = raw.tap_end === "broken";
  const said = { ...raw, note: (isBroken && raw.account) || raw.note };
  if (isBroken && said.broke_at_hole) said.holes = said.broke_at_hole;
  const names = SENT.filter((name) => isBroken || !OF_A_BREAK.includes(name));
  return Object.fromEntries(names.map((name) => [name, (said[name] ?? "").trim()]).filter(([, value]) => value !== ""));
}

/** Holes that the batch still wants after this run; null where nobody can tell. */
export function restOf(raw, offered) {
  if (raw.tap_end === "broken" && !raw.broke_at_hole) return null;
  const made = Number(runOf(raw).holes);
  const entered = Number(raw.holes);
  return (entered > made ? entered : Math.max(Number(offered) || 0, entered)) - made;
}

/** The number of holes that is offered next, {holes, isLeft}, or null if nothing is known. */
export function offeredPortion({ last_batch: last, left_on_job: left }, { largest_batch: largest } = limits()) {
  const isOver = left !== null && left <= 0;
  if (last !== null && (left === null || isOver || last <= left)) return { holes: last, isLeft: false };
  return left === null || isOver || left > largest ? null : { holes: left, isLeft: true };
}
