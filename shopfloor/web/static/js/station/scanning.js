// What a scan does: the server opens, chooses or fits; offline the tablet does it from its kept lists.
import { limits } from "../limits.js";
import { say } from "../words.js";
import { listsOf } from "./choices.js";
import { isUnfilled } from "./log_form.js";
import { notice } from "../messages.js";
import { chooseJob, chooseTap } from "./station_state.js";
import { ask, dismiss } from "../question.js";
import { serverNow } from "../outbox/sender.js";
import { faultOf } from "../scan/faults.js";
import { KINDS, oneSlipAway, plain, readLabel } from "../scan/labels.js";
import { startWedge } from "../scan/wedge.js";
import { askCode } from "../scan/window.js";

export function startScanning(root, form, addresses) {
  const way = root.getElementById("scanned");
  const take = (text) => taken(text, form, way, addresses);
  startWedge(root, way.dataset.prefix, take);
  for (const link of root.querySelectorAll("[data-scan-open]")) {
    link.addEventListener("click", async (event) => {
      event.preventDefault();
      await answered(await askCode(), take, form, way, addresses);
    });
  }
}

async function taken(text, form, way, addresses) {
  dismiss();
  const things = thingsOf(await listsOf(way.elements.station.value));
  const read = readLabel(text);
  const bare = things.filter((thing) => plain(thing.code) === plain(text));
  if (read.fault) return again(faultOf(read.fault, text), [...oneSlipAway(text, things), ...bare], form, way, addresses);
  const found = things.filter((thing) => thing.kind === read.kind && plain(thing.code) === read.plain);
  if (found.length + bare.length > 1) return again(say("'{text}' may mean more than one thing. Touch the one that is meant.", { text }), [...found, ...bare], form, way, addresses);
  await follow({ kind: read.kind, code: found[0]?.code ?? read.plain, text, isKnown: found.length === 1 }, form, way, addresses);
}

async function again(said, near, form, way, addresses) {
  const take = (text) => taken(text, form, way, addresses);
  await answered(await askCode(said, near.slice(0, limits().most_near)), take, form, way, addresses);
}

function answered(answer, take, form, way, addresses) {
  if (answer === null) return undefined;
  return typeof answer === "string" ? take(answer) : follow({ ...answer, isKnown: true }, form, way, addresses);
}

function thingsOf(lists) {
  const of = (kind, list) => (list ?? []).map(({ code }) => ({ kind, code }));
  return [...of("T", lists?.taps), ...of("J", lists?.jobs), ...of("S", lists?.stations)];
}

async function follow(thing, form, way, addresses) {
  if (form && thing.kind === "T" && thing.code === form.elements.tap.value) return notice(say("{code} is in the station already.", { code: thing.code }), "good");
  if (form && !isUnfilled(form) && !(await mayDrop(thing))) return undefined;
  if ((await serverNow(addresses)) !== null) return send(thing, way);
  return followHere(thing, form, way, addresses);
}

// Ask first: nobody must lose what is half typed.
function mayDrop({ kind, code }) {
  const drop = { title: say("Go on with {kind} {code}", { kind: KINDS[kind], code }), lines: [say("what was typed and not saved will be lost")], value: true };
  return ask(say("The batch on this page is not saved yet"), [{ heading: "", tiles: [drop] }], null, say("{code} was scanned. Close this window to save the batch first.", { code }));
}

function send({ kind, code, text }, way) {
  const fields = text === undefined ? { kind, meant: code } : { code: text };
  for (const [name, value] of Object.entries(fields)) {
    way.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
  }
  way.submit();
}

async function followHere({ kind, code, isKnown }, form, way, addresses) {
  if (kind === "S") return location.assign(`${way.dataset.stations}${encodeURI(code)}/`);
  if (!form) return again(say("The server does not answer, and no station is open here. Scan the station's label first."), [], form, way, addresses);
  const lists = await listsOf(form.dataset.station);
  if (!isKnown) return again(say("{code} is not on this tablet's list, and the server does not answer. Scan another {kind}.", { code, kind: KINDS[kind] }), [], form, way, addresses);
  if (kind === "J") return told(chooseJob(form, lists.jobs.find((job) => job.code === code)), `${say("Job")} ${code}`);
  const tap = lists.taps.find((each) => each.code === code);
  const job = lists.jobs.find((each) => each.code === form.elements.job.value);
  if (job && tap.thread !== job.thread) return again(say("{code} ({type}) does not cut this job's thread. Scan a tap for {job}.", { code, type: tap.tap_type, job: job.about }), [], form, way, addresses);
  return told(chooseTap(form, tap), `${say("Tap")} ${code}`);
}

async function told(done, what) {
  if ((await done) === false) return;
  notice(say("{what} was scanned. It will be sent when the server answers again.", { what }), "warn");
}
