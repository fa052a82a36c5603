// Starts what keeps entries on the tablet, on each of the operator's pages.
import { startCounting } from "./counting.js";
import { entries, factNames, keepFact, onChange } from "./database.js";
import { element } from "./elements.js";
import { onLockWithoutNetwork } from "../idle.js";
import { putDraft } from "./drafts.js";
import { startLockScreen } from "./lock_screen.js";
import { showKeptRisk, startKeptRisk } from "./kept_risk.js";
import { isSaving, isUntouched, noticePin, startLogForm } from "./log_form.js";
import { startPinQuestion } from "./pin.js";
import { afterwards, hasChosen, lockWithoutNetwork, startChoices, startWithoutTap, takeUp, tellAway, tellChoices } from "./place.js";
import { addressAnew, drawnAt, showHolesSince } from "./page_words.js";
import { renewPortion } from "./portion.js";
import { startQuestions } from "./question.js";
import { renewInPlace } from "./renewal.js";
import { WAITING } from "./rules.js";
import { sendPhotographs } from "./photographs.js";
import { network, onNetwork, read, sendAll, serverNow } from "./sender.js";
import { startScanning } from "../scan/start.js";
import { startStatus } from "./status.js";
import { startTray } from "./tray.js";
import { say } from "../words.js";

const AGAIN_MS = 10_000;
const STALE_MS = 120_000;
const SLACK_MS = 2000;
const QUIET_MS = 3000;
const LOW_BYTES = 5_000_000;

export function startOutbox(root) {
  const tray = root.getElementById("tray");
  const form = root.querySelector("form.log");
  const { runs, taps, clock, worker, largest, news, pinDoor: pin, here } = tray.dataset;
  const doors = { runs, taps, clock, worker, pin, here, largest: Number(largest) };
  const send = () => sendAll(doors).then(() => void sendPhotographs(doors));
  const openTray = startTray(tray, send, facts, doors);
  startPinQuestion(root);
  startQuestions(root);
  startLockScreen(root, doors);
  startStatus(root.querySelector("[data-kept-status]"), openTray);
  if (form) {
    startLogForm(form, doors, afterwards);
    startChoices(form, doors);
    startWithoutTap(form, doors);
    startCounting(root, form);
    if (doors.pin) {
      putDraft(form);
      onLockWithoutNetwork(() => lockWithoutNetwork(form, doors));
    }
    startKeptRisk(form);
  }
  startScanning(root, form, doors);
  let asking;
  const look = oneAfterAnother(() => {
    clearTimeout(asking);
    return round(form, doors, news).finally(() => (asking = setTimeout(letWorkerIn, QUIET_MS)));
  });
  look();
  if (form) startFigures(form, look);
  // What is missing for want of the server is no news once it answers.
  onNetwork(() => network.answers && root.querySelectorAll(".while-away").forEach((words) => words.remove()));
  setInterval(look, AGAIN_MS * (1 + Math.random() / 4));
  addEventListener("online", look);
  root.addEventListener("visibilitychange", () => root.visibilityState === "visible" && look());
  keepWorker(doors);
  listStations(root);
}

// Two looks at once could tell the server of the same choice twice, the second time too late.
function oneAfterAnother(look) {
  let turn = Promise.resolve();
  let isNext = false;
  return () => {
    if (isNext) return;
    isNext = true;
    const begin = () => {
      isNext = false;
      return look();
    };
    turn = turn.then(begin).catch(() => undefined);
  };
}

// What the tablet's own entries change of the page's figures; once all that waited are stored, the server tells them.
function startFigures(form, look) {
  const show = async () => {
    const kept = await entries();
    showHolesSince(form, kept);
    await renewPortion(form);
    const isWaiting = kept.some((entry) => entry.state === WAITING);
    if (hadWaiting && !isWaiting && !isSaving()) {
      isOld = true;
      look();
    }
    hadWaiting = isWaiting;
  };
  onChange(show);
  show();
}

let hadWaiting = false;
let isTakenUp = false;
let hasAnswered = false;
let isOld = false;

// One look at the server: send what waits; where it is away, make the page honest; where it is back, renew the page.
async function round(form, doors, news) {
  const now = await serverNow(doors);
  if (now === null) return withoutServer(form, doors);
  const isKept = !hasAnswered && !isTakenUp && isKeptCopy(now, news);
  if (isKept) await withoutServer(form, doors);
  hasAnswered = true;
  await sendAll(doors);
  // Nothing waits for them.
  sendPhotographs(doors);
  // A server that was too slow for the page is asked for it again at the next look, not in a hurry.
  if (isKept) return;
  if (!form) return;
  if (doors.pin && !isTakenUp) await keepFact("locked", undefined);
  if (!(await renew(form, doors, now))) await keepLists(form);
}

// Have the server tell the page anew; resolves with whether the page goes for it. A half-filled form stays as it is.
async function renew(form, doors, now) {
  const kept = await entries();
  const owes = kept.find((entry) => entry.state === WAITING && entry.needs_pin);
  if (owes && !document.querySelector(".told[data-pin-told]")) noticePin(owes, doors);
  const isFree = () => isUntouched(form) && !document.querySelector("dialog[open]");
  if (kept.some((entry) => entry.state === WAITING)) return false;
  if (!isFree()) {
    const isDue = (isTakenUp || isOld) && !isSaving() && !(await hasChosen(form));
    if (isDue && (await renewInPlace(form))) isTakenUp = isOld = false;
    return false;
  }
  const isStale = now - drawnAt() > STALE_MS * 30;
  if ((await tellChoices(form, doors)) || isTakenUp || isStale) isOld = true;
  // While the server was told, somebody may have begun to type or saved.
  if (!isOld || !isFree()) return false;
  location.replace(isStale ? location.pathname : addressAnew());
  return true;
}

async function withoutServer(form, doors) {
  if (form && !isTakenUp) await takeUp(form, !hasAnswered, doors);
  if (form) tellAway();
  if (form) await showKeptRisk(form);
  isTakenUp = true;
}

// A page that was drawn before this visit began, or for other news, came from the tablet, not from the server.
function isKeptCopy(now, news) {
  const asked = new URLSearchParams(location.search).get("saved") ?? "";
  return asked !== news || now - drawnAt() > performance.now() + SLACK_MS;
}

let listsAt = -Infinity;

async function keepLists(form) {
  if (performance.now() - listsAt < STALE_MS) return;
  const lists = await read(form.dataset.lists);
  if (!lists?.people) return;
  listsAt = performance.now();
  await keepFact(`lists ${form.dataset.station}`, lists);
  const advice = await read(form.dataset.advice);
  if (advice?.advice) await keepFact(`advice ${form.dataset.station}`, { ...advice, kept_on: Date.now() });
}

function keepWorker({ worker }) {
  if (!("serviceWorker" in navigator)) return;
  const had = navigator.serviceWorker.controller !== null;
  navigator.serviceWorker.register(worker).catch(() => undefined);
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (had) network.isNewVersion = true;
  });
}

// A new worker asks to come in as soon as it is ready, which a browser may forget while the old one is busy, as it is
// during a look. Asked again in a quiet moment it is let in at once.
async function letWorkerIn() {
  (await navigator.serviceWorker?.getRegistration())?.waiting?.postMessage("come in");
}

// What the tray says of this tablet: what is missing, and what may go wrong.
async function facts() {
  const lines = [];
  if (!("serviceWorker" in navigator)) {
    lines.push(say("This address is not https: an open page keeps its entries without network, but cannot be opened anew. Keep it open."));
  }
  if (network.isNewVersion) lines.push(say("A newer version of these pages is there: load the page again when no batch is half typed."));
  const room = await navigator.storage?.estimate?.();
  if (room && room.quota - room.usage < LOW_BYTES) lines.push(say("This tablet's storage is almost full: make room before entries can no longer be kept."));
  return lines.map((line) => element("p", { class: "notice notice-warn" }, line));
}

// On the page in place of one that is not here: the stations that are.
async function listStations(root) {
  const place = root.querySelector("[data-kept-stations]");
  if (!place) return;
  const names = (await factNames()).filter((name) => name.startsWith("lists ")).map((name) => name.slice("lists ".length));
  const tiles = names.map((name) => element("a", { class: "tile", href: `${place.dataset.keptStations}${encodeURI(name)}/` }, element("strong", {}, name)));
  place.replaceChildren(...tiles);
}

