// Who works on which job with which tap: chosen offline from the lists kept on the tablet.
import { entries, fact, keep } from "../outbox/database.js";
import { element } from "../elements.js";
import { newId, newTapCode } from "../outbox/ids.js";
import { tapsNow } from "../outbox/entries_since.js";
import { ask, inform } from "../question.js";
import { codeKey, oneSlipAway, plain, readLabel } from "../scan/labels.js";
import { faultOf } from "../scan/faults.js";
import { WAITING } from "../outbox/rules.js";
import { say, sayCount } from "../words.js";

const SAFETY = say(
  "Stop and secure the machine before a hand goes near the tap or the holder. A broken tap is hard and sharp: shield " +
    "it, and leave extraction to qualified people.",
);

/** Who is at the station? Resolves with {code, name} or null. */
export function askPerson(lists) {
  const tiles = lists.people.map((person) => ({ title: person.name, lines: [], value: person }));
  return ask(say("Who are you?"), [{ heading: "", tiles }]);
}

/** Which job? Resolves with the job as the lists have it, or null. */
export function askJob(lists) {
  const tiles = lists.jobs.map((job) => ({ title: `${job.code} ${job.part}`, lines: [job.about], value: job }));
  return ask(say("Which job?"), [{ heading: "", tiles }]);
}

/** Which tap goes in for the job? Resolves with {code, tap_type, holes} or null. */
export async function askTap(kept, job, station, person) {
  const lists = { ...kept, taps: tapsNow(kept, await entries(), station) };
  const thread = lists.jobs.find((each) => each.code === job)?.thread;
  const taps = lists.taps.filter((tap) => tap.thread === thread);
  const kinds = lists.tap_types.filter((kind) => kind.thread === thread);
  const groups = [
    { heading: say("A new tap from the box"), tiles: kinds.map((kind) => ({ title: kind.code, lines: [say("gets a code to write on it") + inBin(kind)], value: kind })) },
    { heading: say("Taps at this station or in the crib"), tiles: taps.map((tap) => tapTile(lists, tap)) },
  ];
  const chosen = await ask(say("Which tap goes in?"), groups, say("Scan or type the code on the tap"), SAFETY);
  if (chosen === null) return null;
  if (typeof chosen === "string") return tapByCode(lists, chosen) ?? askAgain(lists, chosen);
  return "is_here" in chosen ? chosen : fromBox(chosen, station, person);
}

/** The tap that a form of the page names: one of the list, a new one from the box, or the one whose code is typed. */
export async function tapFor(kept, asked, form) {
  const lists = { ...kept, taps: tapsNow(kept, await entries(), form.dataset.station) };
  const kind = lists.tap_types.find((each) => each.code === asked.get("tap_type"));
  if (kind) return fromBox(kind, form.dataset.station, form.elements.person.value);
  const typed = (asked.get("tap") ?? "").trim();
  return typed ? (tapByCode(lists, typed) ?? askAgain(lists, typed)) : null;
}

function tapTile(lists, tap) {
  const holes = tap.holes === null ? say("used before, holes not known") : sayCount(tap.holes, "{n} hole when last updated", "{n} holes when last updated");
  const since = tap.since ? ` + ${say("{holes} on this tablet", { holes: tap.since })}` : "";
  const kind = lists.tap_types.find((each) => each.code === tap.tap_type);
  const place = tap.is_here ? say("at this station") : say("in the crib") + inBin(kind);
  return { title: tap.code, lines: [tap.tap_type, `${holes}${since}, ${place}`], value: tap };
}

// Where it is in the crib; lists kept by an older version do not have it.
function inBin(kind) {
  return kind?.bin ? ", " + say("bin {bin}", { bin: kind.bin }) : "";
}

// A code that the lists do not have may be right all the same: the server decides, and the entry waits in the tray.
function tapByCode(lists, typed) {
  const same = lists.taps.find((tap) => codeKey(tap.code) === codeKey(typed));
  if (same) return same;
  const read = readLabel(typed);
  const code = read.kind === "T" ? read.plain : typed;
  const found = lists.taps.filter((tap) => plain(tap.code) === plain(code));
  if (found.length === 1) return found[0];
  return similarTaps(lists, typed).length ? null : { code, tap_type: "", holes: null };
}

// One character of a label is wrong, or two are swapped: ask which tap is meant.
async function askAgain(lists, typed) {
  const tiles = similarTaps(lists, typed).map((tap) => tapTile(lists, tap));
  return ask(say("Which tap goes in?"), [{ heading: say("Is it one of these?"), tiles }], null, faultOf("check", typed));
}

// The taps that a typed text may mean: one slip away from a label, or written alike but for marks between.
function similarTaps(lists, typed) {
  const near = new Set(oneSlipAway(typed, lists.taps.map((tap) => ({ ...tap, kind: "T" }))).map(({ code }) => code));
  return lists.taps.filter((tap) => near.has(tap.code) || plain(tap.code) === plain(typed));
}

async function fromBox(kind, station, person) {
  const id = newId();
  const code = newTapCode();
  const sent = { id, tap: code, tap_type: kind.code, station, person };
  const told = { station: document.querySelector("#where strong").textContent, person: "" };
  await keep({ id, kind: "tap", state: WAITING, sent, at: Date.now(), attempts: 0, problems: [], told });
  await inform(say("Write this code on the new tap"), element("p", {}, element("strong", { class: "code-to-write" }, code)));
  return { code, tap_type: kind.code, holes: 0, at: 0, is_fitted: true };
}

/** The lists of this station as the server last sent them, or undefined. */
export function listsOf(station) {
  return fact(`lists ${station}`);
}
