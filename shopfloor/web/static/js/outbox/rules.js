// What an entry says and where it is: rules, without network or clock.
import { say, sayCount } from "../words.js";

export const WAITING = "waiting";
export const REFUSED = "refused";
export const SAVED = "saved";
export const TAKEN_BACK = "taken back";
export const ASIDE = "put aside";

const LATER = new Set([401, 408, 425, 429, 502, 503, 504]);
const STORY = ["broke_at_hole", "part_fate", "cause"];
const SENT = [
  "id", "batch_id", "person", "station", "job", "tap", "device_time", "rpm", "holes", "cutting_slips", "slip_holes", "tap_end",
  "broke_at_hole", "part_fate", "cause", "depth_control", "lubricant", "note", "confirmed",
];

function isWhole(text, low, high) {
  return /^\d{1,9}$/.test(text) && Number(text) >= low && Number(text) <= high;
}

// A whole number with something between its thousands; the server reads it by the same rule.
const IN_GROUPS = /^[1-9]\d{0,2}([., \u00a0\u202f']\d{3})+$/;

function counted(raw, field, low, high) {
  const text = (raw[field] ?? "").trim();
  if (isWhole(text, low, high)) return [];
  const whole = IN_GROUPS.test(text) ? text.replace(/\D/g, "") : "";
  if (isWhole(whole, low, high)) {
    const remedy = say("write {whole} if that is meant, or another whole number, with digits only", { whole });
    return [{ field, what: say("{text} can be read in two ways", { text: `'${text}'` }), remedy }];
  }
  const what = text === "" ? say("it is missing") : say("{value} is not possible", { value: `'${text.slice(0, 40)}'` });
  return [{ field, what, remedy: say("give a whole number from {low} to {high}", { low, high }) }];
}

/** What is plainly wrong with what was typed, so that nothing unusable is kept; the server judges the rest. */
export function faultsOf(raw, largest) {
  const faults = [...counted(raw, "holes", 1, largest), ...counted(raw, "rpm", 1, 20000)];
  if ((raw.cutting_slips ?? "").trim() !== "") faults.push(...counted(raw, "cutting_slips", 0, 10 * largest));
  return raw.tap_end === "broken" ? [...faults, ...faultsOfBreak(raw, largest)] : faults;
}

function faultsOfBreak(raw, largest) {
  const faults = [];
  const isGiven = (raw.broke_at_hole ?? "").trim() !== "";
  if (isGiven === Boolean(raw.hole_not_known)) {
    const what = isGiven ? say("a hole is given and 'Not known' is chosen") : say("it is missing");
    faults.push({ field: "broke_at_hole", what, remedy: say("give the hole, or choose 'Not known'") });
  } else if (isGiven) {
    faults.push(...counted(raw, "broke_at_hole", 1, isWhole(raw.holes, 1, largest) ? Number(raw.holes) : largest));
  }
  if (!raw.part_fate) faults.push({ field: "part_fate", what: say("it is missing"), remedy: say("choose one") });
  return faults;
}

// As core/plausible.py has them.
const MANY_TIMES = 3;
const HOLES_A_SLIP = 2;
const SPEED_TIMES = 2;

/**
 * Numbers that are asked back before they are kept, by the rule of `core/plausible.py`.
 *
 * `usual` holds `batch`, `left` and `rpm` where they are known, and the number of holes that the page `offered`.
 */
export function doubtsOf(raw, usual) {
  const run = runOf(raw);
  return [...oddHoles(Number(raw.holes), usual), ...oddSlips(run), ...oddSpeed(Number(run.rpm), usual.rpm ?? null)];
}

function oddHoles(entered, { batch = null, left = null, offered = 0 }) {
  const answer = sayCount(entered, "{n} hole", "{n} holes");
  const isMany = batch !== null && entered > MANY_TIMES * batch && entered !== offered;
  if (isMany) return [doubt("holes", entered, say("{entered}? Usual on this job: {usual}", { entered, usual: batch }), answer)];
  // Once more was made than planned, somebody has said that the job goes on.
  const isBeyond = left !== null && left >= 0 && entered > left;
  return isBeyond ? [doubt("holes", entered, say("{entered}? Left to make on this job: {usual}", { entered, usual: left }), answer)] : [];
}

function oddSlips(run) {
  const [entered, holes] = [Number(run.cutting_slips ?? 0), Number(run.holes)];
  if (run.slip_holes || HOLES_A_SLIP * entered <= holes) return [];
  const question = say("{entered} on {usual} holes? That is more than one in two", { entered, usual: holes });
  return [doubt("cutting_slips", entered, question, sayCount(entered, "{n} cutting slip", "{n} cutting slips"))];
}

function oddSpeed(entered, last) {
  if (last === null || (last <= SPEED_TIMES * entered && entered <= SPEED_TIMES * last)) return [];
  return [doubt("rpm", entered, say("{entered}? Last time: {usual}", { entered, usual: last }), say("{n} rpm", { n: entered }))];
}

function doubt(field, entered, question, answer) {
  return { field, question, answer, mark: `${field}=${entered}` };
}

/** The run as it is sent: the holes that the tap made, and a break's story only where it broke. */
export function runOf(raw) {
  const isBroken = raw.tap_end === "broken";
  const said = { ...raw, note: (isBroken && raw.account) || raw.note };
  if (isBroken && said.broke_at_hole) said.holes = said.broke_at_hole;
  const names = SENT.filter((name) => isBroken || !STORY.includes(name));
  return Object.fromEntries(names.map((name) => [name, (said[name] ?? "").trim()]).filter(([, value]) => value !== ""));
}

/** Holes that the batch still wants after this run; null where nobody can tell. */
export function restOf(raw, offered) {
  if (raw.tap_end === "broken" && !raw.broke_at_hole) return null;
  const made = Number(runOf(raw).holes);
  const entered = Number(raw.holes);
  return (entered > made ? entered : Math.max(Number(offered) || 0, entered)) - made;
}

/**
 * When the work was done, by the server's clock: a tablet's own may be wrong, but it tells how long ago it was.
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
 * Only an answer in our own words counts. Anything else (a log-in page of the Wi-Fi, a proxy's page, silence) is none.
 */
export function settled(entry, answer) {
  if (answer === null) return { change: {}, goesOn: false };
  const { status, body } = answer;
  // Whoever made it is not logged in any more: it waits for the PIN, and others need not wait for it.
  if (status === 401 && Array.isArray(body?.problems)) return { change: { needs_pin: true }, goesOn: true };
  if (LATER.has(status)) return { change: {}, goesOn: false };
  if (status === 200 || status === 201) {
    const isOurs = body?.id === entry.id && body.stored === true;
    return isOurs ? { change: { state: SAVED, problems: [], needs_pin: false }, goesOn: true } : { change: {}, goesOn: false };
  }
  if (!Array.isArray(body?.problems)) return { change: {}, goesOn: false };
  if (status >= 500) return { change: { problems: [said(body)] }, goesOn: true };
  const problems = body.problems.length ? body.problems : [said(body)];
  return { change: { state: REFUSED, status, problems }, goesOn: true };
}

/** Photographs of an entry that go on their own way: its state says of a taken back or a put aside one where they are. */
export function photographsOf({ state, photographs = [] }) {
  return [WAITING, REFUSED, SAVED].includes(state) ? photographs : [];
}

function said(body) {
  return { field: "entry", what: String(body.error), remedy: String(body.remedy) };
}

/** The entry as words: '48 holes on T0012, still good'. */
export function about(entry) {
  if (entry.kind === "tap") return say("New tap {tap} ({kind}) from the box", { tap: entry.sent.tap, kind: entry.sent.tap_type });
  const { holes, tap, tap_end: end, cutting_slips: slips } = entry.sent;
  const told = sayCount(Number(holes), "{n} hole on {tap}, {end}", "{n} holes on {tap}, {end}", { tap, end: endWords(end) });
  return Number(slips) ? `${told}, ${sayCount(Number(slips), "{n} cutting slip", "{n} cutting slips")}` : told;
}

/** How a tap ended, within a sentence. */
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
