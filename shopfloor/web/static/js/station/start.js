// Starts the operator's pages: logging with or without a server, the tray, and the look at the server every few seconds.
import { onOfflineLock } from "../behaviours/idle_lock.js";
import { drawnAt, reloadAddress } from "../messages.js";
import { entries, fact, keepFact, onChange } from "../outbox/database.js";
import { restoreDraft } from "../outbox/drafts.js";
import { sendPhotographs } from "../outbox/photographs.js";
import { startPinQuestion } from "../outbox/pin.js";
import { WAITING } from "../outbox/rules.js";
import { network, onNetwork, read, sendAll, serverNow } from "../outbox/sender.js";
import { startStatus } from "../outbox/status.js";
import { tendWorker, listStations, registerWorker, tabletWarnings } from "../outbox/tablet.js";
import { startTray } from "../outbox/tray.js";
import { startQuestions } from "../question.js";
import { confirmCorrected } from "./asked_back.js";
import { startCounting } from "./counting.js";
import { showHolesSince } from "./holes_since.js";
import { showKeptRisk, startKeptRisk } from "./kept_risk.js";
import { startLockScreen } from "./lock_screen.js";
import { isSaving, isUnfilled, noticePin, startLogForm } from "./log_form.js";
import { renewPortion } from "./portion.js";
import { renewInPlace } from "./renewal.js";
import { startScanning } from "./scanning.js";
import { afterwards, hasUnsentChoices, lockOffline, resumeOffline, sendChoices, showOffline, startChoices, startTapQuestion } from "./station_state.js";

const CHECK_MS = 10_000;
const LISTS_MS = 120_000;
const OLD_PAGE_MS = 3_600_000;
const SLACK_MS = 2000;
const IDLE_MS = 3000;

export function startOperator(root) {
  const tray = root.getElementById("tray");
  const form = root.querySelector("form.log");
  const { runs, taps, clock, worker, news, pinAddress: pin, here } = tray.dataset;
  const addresses = { runs, taps, clock, worker, pin, here };
  const send = () => sendAll(addresses).then(() => void sendPhotographs(addresses));
  const openTray = startTray(tray, { send, warnings: tabletWarnings, confirm: confirmCorrected }, addresses);
  startPinQuestion(root);
  startQuestions(root);
  startLockScreen(root, addresses);
  startStatus(root.querySelector("[data-kept-status]"), openTray);
  if (form) startStation(root, form, addresses);
  startScanning(root, form, addresses);
  let idle;
  const check = oneAtATime(() => {
    clearTimeout(idle);
    return checkServer(form, addresses, news).finally(() => (idle = setTimeout(tendWorker, IDLE_MS)));
  });
  check();
  if (form) startFigures(form, check);
  // What is missing for want of the server is out of date once it answers.
  onNetwork(() => network.answers && root.querySelectorAll(".while-away").forEach((words) => words.remove()));
  setInterval(check, CHECK_MS * (1 + Math.random() / 4));
  addEventListener("online", check);
  root.addEventListener("visibilitychange", () => root.visibilityState === "visible" && check());
  registerWorker(addresses);
  listStations(root);
}

function startStation(root, form, addresses) {
  startLogForm(form, addresses, afterwards);
  startChoices(form, addresses);
  startTapQuestion(form, addresses);
  startCounting(root, form);
  if (addresses.pin) {
    restoreDraft(form);
    onOfflineLock(() => lockOffline(form, addresses));
  }
  startKeptRisk(form);
}

// Two checks at once could send the same choice twice, the second time too late. One that is asked for during another
// comes after it.
function oneAtATime(check) {
  let turn = Promise.resolve();
  let isNext = false;
  return () => {
    if (isNext) return;
    isNext = true;
    const begin = () => {
      isNext = false;
      return check();
    };
    turn = turn.then(begin).catch(() => undefined);
  };
}

// Add this tablet's own entries to the page's figures; once everything that waited is stored, ask the server for them.
function startFigures(form, check) {
  const show = async () => {
    const kept = await entries();
    showHolesSince(form, kept);
    await renewPortion(form);
    const isWaiting = kept.some((entry) => entry.state === WAITING);
    if (hadWaiting && !isWaiting && !isSaving()) {
      isOld = true;
      check();
    }
    hadWaiting = isWaiting;
  };
  onChange(show);
  show();
}

let hadWaiting = false;
let isOffline = false;
let hasAnswered = false;
let isOld = false;

// Send what waits; if the server is unreachable, show that; once it is back, reload the page.
async function checkServer(form, addresses, news) {
  const now = await serverNow(addresses);
  if (now === null) return workOffline(form, addresses);
  const isCached = !hasAnswered && !isOffline && isCachedCopy(now, news);
  if (isCached) await workOffline(form, addresses);
  hasAnswered = true;
  await sendAll(addresses);
  // Not awaited: nothing else waits for photographs.
  sendPhotographs(addresses);
  // A server that was too slow for the page is asked for it again at the next check, not at once.
  if (isCached) return;
  if (!form) return;
  if (addresses.pin && !isOffline) await keepFact("locked", undefined);
  if (!(await refreshPage(form, addresses, now))) await updateLists(form);
}

// Reload the page from the server; resolves with whether it is being left. A half-filled form stays as it is.
async function refreshPage(form, addresses, now) {
  const kept = await entries();
  const owes = kept.find((entry) => entry.state === WAITING && entry.needs_pin);
  if (owes && !document.querySelector(".told[data-pin-told]")) noticePin(owes, addresses);
  const isFree = () => isUnfilled(form) && !document.querySelector("dialog[open]");
  if (kept.some((entry) => entry.state === WAITING)) return false;
  if (!isFree()) {
    const isDue = (isOffline || isOld) && !isSaving() && !(await hasUnsentChoices(form));
    if (isDue && (await renewInPlace(form))) isOffline = isOld = false;
    return false;
  }
  const isOldPage = now - drawnAt() > OLD_PAGE_MS;
  if ((await sendChoices(form, addresses)) || isOffline || isOldPage) isOld = true;
  // Somebody may have begun to type, or saved, while the choices were sent.
  if (!isOld || !isFree()) return false;
  location.replace(isOldPage ? location.pathname : reloadAddress());
  return true;
}

async function workOffline(form, addresses) {
  const before = network.answers;
  if (form && !isOffline) await resumeOffline(form, !hasAnswered, addresses);
  isOffline = true;
  // The server may have answered while the tablet was reading.
  if (!form || network.answers !== before) return;
  showOffline();
  await showKeptRisk(form);
}

// A page that was drawn before this visit began, or after another entry, came from the tablet's cache.
function isCachedCopy(now, news) {
  const asked = new URLSearchParams(location.search).get("saved") ?? "";
  return asked !== news || now - drawnAt() > performance.now() + SLACK_MS;
}

// What can be chosen here, and the risks of the taps, kept for working offline: also beyond this page, since most pages
// of a station differ only by a batch, whose holes the tablet adds itself.
async function updateLists(form) {
  const { station, lists: listsAddress, advice: adviceAddress } = form.dataset;
  const of = [document.documentElement.lang, form.elements.job.value, form.elements.tap.value].join(" ");
  const kept = await fact(`advice ${station}`);
  const age = Date.now() - kept?.kept_on;
  if (kept?.of === of && age >= 0 && age < LISTS_MS) return;
  const lists = await read(listsAddress);
  if (!lists?.people) return;
  await keepFact(`lists ${station}`, lists);
  const advice = await read(adviceAddress);
  if (advice?.advice) await keepFact(`advice ${station}`, { ...advice, kept_on: Date.now(), of });
}
