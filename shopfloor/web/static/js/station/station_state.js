// The state of a station that works offline: person, job and tap chosen since, and the unfinished batch.
import { markUnchanged } from "../behaviours/form_changes.js";
import { saveDraft, restoreDraft } from "../outbox/drafts.js";
import { askJob, askPerson, askTap, listsOf, tapFor } from "./choices.js";
import { entries, fact, keepFact } from "../outbox/database.js";
import { element } from "../elements.js";
import { showKeptRisk } from "./kept_risk.js";
import { isUnfilled, renewId } from "./log_form.js";
import { endsSince, entriesSince } from "../outbox/entries_since.js";
import { askForNewer, clearFaults, drawnAt, notice } from "../messages.js";
import { showHolesSince } from "./holes_since.js";
import { offerRest, renewPortion } from "./portion.js";
import { inform } from "../question.js";
import { endWords } from "../outbox/rules.js";
import { isLoggedIn, network, serverNow } from "../outbox/sender.js";
import { clockTime, say, sayCount } from "../words.js";

const nameOf = (form) => `place ${form.dataset.station}`;

async function remember(form, chosen) {
  const place = { ...(await fact(nameOf(form))), ...chosen };
  await keepFact(nameOf(form), place);
  put(form, place);
  await renewPortion(form);
  await showKeptRisk(form);
}

// Put what was chosen both into the page's words and into the form, which must agree.
function put(form, { person, job, tap, going }) {
  const fields = form.elements;
  if (person) {
    fields.person.value = person.code;
    form.dataset.unconfirmed = person.is_unconfirmed ? "yes" : "";
    document.querySelector("#who strong").textContent = person.name;
    form.querySelector(".save").textContent = say("Save for {name}", { name: person.name });
  }
  if (job && job.code !== fields.job.value) putJob(form, job);
  if (tap) putTap(form, tap);
  if (going) {
    fields.batch_id.value = going.batch;
    fields.holes.value = fields.holes.dataset.offered = going.rest ?? "";
    offerRest(form, going.rest);
  }
}

function putJob(form, job) {
  const { id, batch_id: batch, holes } = form.elements;
  form.elements.job.value = job.code;
  form.elements.offered.value = "";
  // Lists kept by an older version do not have it.
  form.dataset.usual = JSON.stringify(job.usual ?? {});
  // A batch of another job is over, and so is what was left of it.
  batch.value = id.value;
  if (holes.value === holes.dataset.offered) holes.value = "";
  document.querySelector("#which small").textContent = `${say("Job")} ${job.code}`;
  document.querySelector("#which strong").textContent = job.part;
  const about = document.querySelector("#which span");
  if (about) about.textContent = job.about;
  // The speed shown is still that of the job before: have it checked.
  form.querySelector(".conditions").open = true;
}

function putTap(form, tap) {
  const fields = form.elements;
  fields.tap.value = tap.code;
  showForm();
  document.querySelector(".tap-code").textContent = tap.code;
  document.querySelector(".tap-head p").textContent = tap.tap_type;
  const holes = tap.holes === null ? say("Holes not known while offline") : sayCount(tap.holes, "{n} hole when it was chosen", "{n} holes when it was chosen");
  const place = document.querySelector(".tap-holes");
  place.textContent = holes;
  if (tap.at !== undefined) place.dataset.at = tap.at;
  entries().then((kept) => showHolesSince(form, kept));
  document.querySelector(".tap-facts .life-bar")?.remove();
  document.querySelector(".tap-facts .life-bar-key")?.remove();
}

// Show the form on a page that was drawn while no tap was in the station.
function showForm() {
  document.querySelector("[data-which-tap]")?.remove();
  document.querySelector("[data-without-tap]")?.removeAttribute("hidden");
}

/** Where the server does not answer, take the tap that is touched or whose code is typed. */
export function startTapQuestion(form, addresses) {
  const page = document.querySelector("[data-which-tap]");
  page?.addEventListener("submit", async (event) => {
    const { target: asked, submitter } = event;
    if (event.defaultPrevented) return;
    event.preventDefault();
    if (asked.dataset.isAnswered) return;
    if ((await serverNow(addresses)) !== null) {
      asked.dataset.isAnswered = "yes";
      // A second submit event would be dropped as a bounce: pass the touched button as a field instead.
      if (submitter?.name) asked.append(element("input", { type: "hidden", name: submitter.name, value: submitter.value }));
      return asked.submit();
    }
    const lists = await listsOf(form.dataset.station);
    const tap = lists && (await tapFor(lists, new FormData(asked, submitter), form));
    if (tap) await chooseTap(form, tap);
    else if (!lists) inform(say("The list of taps is not on this tablet yet"), element("p", {}, say("Open the page again when the server answers.")));
  });
}

/** Empty the form for the next batch, after one that stayed on the tablet. */
export async function afterwards(form, raw, rest) {
  const hasEnded = raw.tap_end !== "still good";
  const going = hasEnded && rest !== 0 ? { batch: raw.batch_id, run: raw.id, rest } : undefined;
  // The server may know a rest of this batch, which it would go on offering.
  const over = !going && raw.batch_id !== raw.id ? { over: raw.id } : {};
  form.reset();
  for (const name of ["holes", "broke_at_hole", "account", "note"]) form.elements[name].value = "";
  form.elements.cutting_slips.value = "0";
  form.elements.slip_holes.value = "";
  form.elements.hole_not_known.checked = false;
  for (const box of form.querySelectorAll('[name="tap_end"], [name="part_fate"], [name="cause"]')) box.checked = box.value === "still good";
  for (const name of ["person", "job", "tap", "rpm", "depth_control", "lubricant"]) form.elements[name].value = raw[name] ?? "";
  form.elements.batch_id.value = form.elements.id.value;
  renewId(form);
  await remember(form, { going, ...over });
  markUnchanged(form);
  form.dispatchEvent(new Event("renewed", { bubbles: true }));
  if (hasEnded) await changeTap(form);
}

async function changeTap(form) {
  const lists = await listsOf(form.dataset.station);
  if (!lists) return notice(say("The list of taps is not on this tablet yet."), "bad");
  const { job, person } = form.elements;
  const tap = await askTap(lists, job.value, form.dataset.station, person.value);
  if (tap) await chooseTap(form, tap);
}

async function choose(form, question, name) {
  const lists = await listsOf(form.dataset.station);
  const chosen = lists ? await question(lists) : null;
  if (chosen) await remember(form, { [name]: chosen, ...(name === "job" ? { going: undefined } : {}) });
}

/** Remember that the station works on this job. */
export function chooseJob(form, job) {
  return remember(form, { job, going: undefined });
}

/** This tap is in the station now; false where a batch on this tablet says that it came to its end. */
export async function chooseTap(form, tap) {
  const end = endsSince(await entries(), drawnAt()).get(tap.code);
  if (end) {
    const told = { tap: tap.code, end: endWords(end) };
    inform(say("Another tap must be fitted"), element("p", {}, say("{tap} ended in a batch on this tablet: {end}.", told)));
    return false;
  }
  const lists = await listsOf(form.dataset.station);
  await remember(form, { tap: { at: Date.parse(lists?.at), ...tap } });
  return true;
}

// Offline no PIN can be checked: the name is enough for now, and the PIN is asked for later.
async function choosePerson(form, addresses) {
  const lists = await listsOf(form.dataset.station);
  const person = lists ? await askPerson(lists) : null;
  if (!person) return false;
  await remember(form, { person: addresses.pin ? { ...person, is_unconfirmed: true } : person });
  if (addresses.pin) {
    await startAnew(form);
    await keepFact("locked", undefined);
    await restoreDraft(form);
  }
  return true;
}

// The form belonged to the person before.
async function startAnew(form) {
  for (const name of ["holes", "broke_at_hole", "account", "note"]) form.elements[name].value = "";
  form.elements.cutting_slips.value = "0";
  form.elements.slip_holes.value = "";
  for (const box of form.querySelectorAll('[name="tap_end"]')) box.checked = box.value === "still good";
  markUnchanged(form);
  form.dispatchEvent(new Event("renewed", { bubbles: true }));
}

/** Lock the tablet offline: whoever continues must say who they are. */
export async function lockOffline(form, addresses) {
  await keepFact("locked", true);
  while (!(await choosePerson(form, addresses))) {
    if (!(await listsOf(form.dataset.station))) return;
  }
}

/** Links to choices go to the server; where it does not answer, the tablet asks itself. */
export function startChoices(form, addresses) {
  const ways = [
    ["#who", () => choosePerson(form, addresses)],
    ["#which", () => choose(form, askJob, "job")],
    [".tap-head a.button", () => changeTap(form)],
  ];
  for (const [selector, ask] of ways) {
    const link = document.querySelector(selector);
    link?.addEventListener("click", async (event) => {
      event.preventDefault();
      if (selector === "#who" && addresses.pin) await saveDraft(form);
      if ((await serverNow(addresses)) === null) await ask();
      else location.assign(link.href);
    });
  }
}

/**
 * Continue offline. Nothing that somebody is typing is touched.
 *
 * A cached page (`isKept`: the server has not answered since it was opened) is stripped of what is out of date: old news,
 * and the batch of that time.
 */
export async function resumeOffline(form, isKept, addresses) {
  const isFree = isUnfilled(form);
  if (isKept) {
    clearFaults();
    for (const old of document.querySelectorAll(".told")) old.remove();
  }
  if (isKept && isFree) {
    form.elements.batch_id.value = form.elements.id.value;
    form.elements.holes.value = "";
  }
  if (isKept) await askForNewest(form);
  const { going, ...chosen } = (await fact(nameOf(form))) ?? {};
  put(form, isFree ? { ...chosen, going } : chosen);
  await renewPortion(form);
  if (isFree) markUnchanged(form);
  // Not awaited: the tablet keeps checking for the server while it waits for somebody to say who they are.
  if (addresses.pin && (await fact("locked"))) lockOffline(form, addresses).catch(() => undefined);
}

// The page drawn next shows the news of the newest batch saved since the cached page was drawn, not of the one before.
async function askForNewest(form) {
  const isRunHere = ({ kind, sent }) => kind === "run" && sent.station === form.dataset.station;
  const newest = entriesSince(await entries(), drawnAt()).filter(isRunHere).at(-1);
  if (newest) askForNewer(newest.id);
}

/** Say that the server does not answer, unless other news is shown. */
export function showOffline() {
  if (document.querySelector(".told")) return;
  notice(say("The server does not answer. Figures are as of {time}; batches are kept on this tablet.", { time: clockTime(drawnAt()) }), "warn");
  document.querySelector(".told")?.classList.add("while-away");
}

/** Whether something was chosen that the server does not know of yet. */
export async function hasUnsentChoices(form) {
  return Object.values((await fact(nameOf(form))) ?? {}).some(Boolean);
}

/** Send the server what was chosen offline; resolves with whether there was anything to send. */
export async function sendChoices(form, addresses) {
  const place = await fact(nameOf(form));
  if (!place || !network.answers) return false;
  // Who it is has to be proved by a PIN; the rest is sent once somebody is logged in.
  if (addresses.pin && !(await isLoggedIn(addresses))) return true;
  const token = form.elements.csrf_token.value;
  const post = (address, fields) => postChoice(address, { csrf_token: token, ...fields });
  const { person, job, going, over, tap } = place;
  if (person && !addresses.pin) await post(document.querySelector("#who").href, { person: person.code });
  if (job) await post(document.querySelector("#which").href, { job: job.code });
  if (going) await post(form.dataset.goOn, { run: going.run, rest: going.rest ?? "" });
  else if (over) await post(form.dataset.goOn, { run: over, rest: "0" });
  if (tap && !tap.is_fitted) await post(document.querySelector(".tap-head a.button").href, { tap: tap.code });
  await keepFact(nameOf(form), undefined);
  return true;
}

// What the server refuses (a tap that is elsewhere by now) is asked again by the reloaded page; after a 5xx it is sent later.
async function postChoice(address, fields) {
  const answer = await fetch(address, { method: "POST", body: new URLSearchParams(fields), redirect: "manual" });
  if (answer.status >= 500) throw new Error("the server is in trouble");
}
