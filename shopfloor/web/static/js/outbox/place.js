// The station page while the server does not answer: what was chosen since, and the batch that goes on.
import { isFresh } from "../touched.js";
import { keepDraft, putDraft } from "./drafts.js";
import { askJob, askPerson, askTap, listsOf, tapFor } from "./choices.js";
import { entries, fact, keepFact } from "./database.js";
import { element } from "./elements.js";
import { showKeptRisk } from "./kept_risk.js";
import { isUntouched, renewId } from "./log_form.js";
import { endsSince, newsSince } from "./news.js";
import { askForNews, clearFaults, drawnAt, notice, showHolesSince } from "./page_words.js";
import { offerRest, renewPortion } from "./portion.js";
import { tell } from "./question.js";
import { endWords } from "./rules.js";
import { isLoggedIn, network, serverNow } from "./sender.js";
import { clockTime, say, sayCount } from "../words.js";

const nameOf = (form) => `place ${form.dataset.station}`;

async function remember(form, chosen) {
  const place = { ...(await fact(nameOf(form))), ...chosen };
  await keepFact(nameOf(form), place);
  put(form, place);
  await renewPortion(form);
}

// What the page says and what the form sends must be the same.
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
  // Lists that an older version kept know nothing of it.
  form.dataset.usual = JSON.stringify(job.usual ?? {});
  // A batch of another job is over, and so is what was left of it.
  batch.value = id.value;
  if (holes.value === holes.dataset.offered) holes.value = "";
  document.querySelector("#which small").textContent = `${say("Job")} ${job.code}`;
  document.querySelector("#which strong").textContent = job.part;
  const about = document.querySelector("#which span");
  if (about) about.textContent = job.about;
  // The speed is that of the job before: it must be seen.
  form.querySelector(".conditions").open = true;
}

function putTap(form, tap) {
  const fields = form.elements;
  fields.tap.value = tap.code;
  showForm();
  document.querySelector(".tap-code").textContent = tap.code;
  document.querySelector(".tap-head p").textContent = tap.tap_type;
  const holes = tap.holes === null ? say("Holes not known without network") : sayCount(tap.holes, "{n} hole when it was chosen", "{n} holes when it was chosen");
  const place = document.querySelector(".tap-holes");
  place.textContent = holes;
  if (tap.at !== undefined) place.dataset.at = tap.at;
  entries().then((kept) => showHolesSince(form, kept));
  document.querySelector(".tap-facts .life-bar")?.remove();
  document.querySelector(".tap-facts .life-bar-key")?.remove();
  showKeptRisk(form);
}

// The page was drawn while no tap was in the station.
function showForm() {
  document.querySelector("[data-which-tap]")?.remove();
  document.querySelector("[data-without-tap]")?.removeAttribute("hidden");
}

/** Take the tap that is touched, or whose code is typed, where the server does not answer. */
export function startWithoutTap(form, doors) {
  const page = document.querySelector("[data-which-tap]");
  page?.addEventListener("submit", async (event) => {
    const { target: asked, submitter } = event;
    if (event.defaultPrevented) return;
    event.preventDefault();
    if (asked.dataset.isAnswered) return;
    if ((await serverNow(doors)) !== null) {
      asked.dataset.isAnswered = "yes";
      // A second event of the form would be taken for a bounce of the finger: what was touched goes as a field.
      if (submitter?.name) asked.append(element("input", { type: "hidden", name: submitter.name, value: submitter.value }));
      return asked.submit();
    }
    const lists = await listsOf(form.dataset.station);
    const tap = lists && (await tapFor(lists, new FormData(asked, submitter), form));
    if (tap) await chooseTap(form, tap);
    else if (!lists) tell(say("The list of taps is not on this tablet yet"), element("p", {}, say("Open the page again when the server answers.")));
  });
}

/** An empty form for the next batch, after one that stayed on the tablet. */
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
  isFresh(form);
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

/** The station works on this job: what was scanned is remembered as what was touched. */
export function chooseJob(form, job) {
  return remember(form, { job, going: undefined });
}

/** This tap is in the station now; false where a batch on this tablet says that it came to its end. */
export async function chooseTap(form, tap) {
  const end = endsSince(await entries(), drawnAt()).get(tap.code);
  if (end) {
    const told = { tap: tap.code, end: endWords(end) };
    tell(say("Another tap has to go in"), element("p", {}, say("{tap} came to its end in a batch on this tablet: {end}.", told)));
    return false;
  }
  const lists = await listsOf(form.dataset.station);
  await remember(form, { tap: { at: Date.parse(lists?.at), ...tap } });
  return true;
}

// Without network nobody can be asked for a PIN: the name is enough for now, and the PIN is asked for later.
async function choosePerson(form, doors) {
  const lists = await listsOf(form.dataset.station);
  const person = lists ? await askPerson(lists) : null;
  if (!person) return false;
  await remember(form, { person: doors.pin ? { ...person, is_unconfirmed: true } : person });
  if (doors.pin) {
    await startAnew(form);
    await keepFact("locked", undefined);
    await putDraft(form);
  }
  return true;
}

// The form belonged to whoever was here before.
async function startAnew(form) {
  for (const name of ["holes", "broke_at_hole", "account", "note"]) form.elements[name].value = "";
  form.elements.cutting_slips.value = "0";
  form.elements.slip_holes.value = "";
  for (const box of form.querySelectorAll('[name="tap_end"]')) box.checked = box.value === "still good";
  isFresh(form);
  form.dispatchEvent(new Event("renewed", { bubbles: true }));
}

/** The tablet locks while the server does not answer: whoever goes on says who it is. */
export async function lockWithoutNetwork(form, doors) {
  await keepFact("locked", true);
  while (!(await choosePerson(form, doors))) {
    if (!(await listsOf(form.dataset.station))) return;
  }
}

/** Links to choices ask the server; where it does not answer, the tablet asks by itself. */
export function startChoices(form, doors) {
  const ways = [
    ["#who", () => choosePerson(form, doors)],
    ["#which", () => choose(form, askJob, "job")],
    [".tap-head a.button", () => changeTap(form)],
  ];
  for (const [selector, ask] of ways) {
    const link = document.querySelector(selector);
    link?.addEventListener("click", async (event) => {
      event.preventDefault();
      if (selector === "#who" && doors.pin) await keepDraft(form);
      if ((await serverNow(doors)) === null) await ask();
      else location.assign(link.href);
    });
  }
}

/**
 * Go on without the server. Nothing that somebody is typing is touched.
 *
 * A page that was kept (`isKept`: the server never answered it) is made honest: no news of yesterday, no batch of then.
 */
export async function takeUp(form, isKept, doors) {
  const isFree = isUntouched(form);
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
  if (isFree) isFresh(form);
  // Not awaited: the tablet goes on looking for the server while it waits for somebody to say who it is.
  if (doors.pin && (await fact("locked"))) lockWithoutNetwork(form, doors).catch(() => undefined);
}

// Of a batch that was saved since the kept page was drawn the next page has to tell, not of the one before.
async function askForNewest(form) {
  const isRunHere = ({ kind, sent }) => kind === "run" && sent.station === form.dataset.station;
  const newest = newsSince(await entries(), drawnAt()).filter(isRunHere).at(-1);
  if (newest) askForNews(newest.id);
}

/** Say that the server is away, where nothing else is said. */
export function tellAway() {
  if (document.querySelector(".told")) return;
  notice(say("The server does not answer. Figures are as of {time}; batches are kept on this tablet.", { time: clockTime(drawnAt()) }), "warn");
  document.querySelector(".told")?.classList.add("while-away");
}

/** Whether something was chosen of which the server does not know yet. */
export async function hasChosen(form) {
  return Object.values((await fact(nameOf(form))) ?? {}).some(Boolean);
}

/** Tell the server what was chosen without it; resolves with whether there was anything to tell. */
export async function tellChoices(form, doors) {
  const place = await fact(nameOf(form));
  if (!place || !network.answers) return false;
  // Who it was is not told but proved; the rest is told once somebody is logged in.
  if (doors.pin && !(await isLoggedIn(doors))) return true;
  const token = form.elements.csrf_token.value;
  const tell = (address, fields) => tellOne(address, { csrf_token: token, ...fields });
  const { person, job, going, over, tap } = place;
  if (person && !doors.pin) await tell(document.querySelector("#who").href, { person: person.code });
  if (job) await tell(document.querySelector("#which").href, { job: job.code });
  if (going) await tell(form.dataset.goOn, { run: going.run, rest: going.rest ?? "" });
  else if (over) await tell(form.dataset.goOn, { run: over, rest: "0" });
  if (tap && !tap.is_fitted) await tell(document.querySelector(".tap-head a.button").href, { tap: tap.code });
  await keepFact(nameOf(form), undefined);
  return true;
}

// What the server refuses (a tap that is elsewhere by now) is asked for by the renewed page; trouble is told again later.
async function tellOne(address, fields) {
  const answer = await fetch(address, { method: "POST", body: new URLSearchParams(fields), redirect: "manual" });
  if (answer.status >= 500) throw new Error("the server is in trouble");
}
