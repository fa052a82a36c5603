// Sends photographs of broken taps, each after its entry is saved, and never ahead of entries.
import { changePhotograph, entries, pictureOf } from "./database.js";
import { REFUSED, SAVED, WAITING, settled } from "./rules.js";
import { postPicture } from "./sender.js";
import { say } from "../words.js";

const LOCK = "shopfloor-photographs";
const PAUSE_MS = 60_000;
let isSending = false;
let pausedUntil = 0;

/** Send what may be sent. One tab at a time where the browser can tell; two at once would do no harm. */
export async function sendPhotographs(addresses) {
  if (isSending || performance.now() < pausedUntil) return;
  isSending = true;
  try {
    const pass = () => sendInOrder(addresses);
    await (navigator.locks ? navigator.locks.request(LOCK, { ifAvailable: true }, (lock) => lock && pass()) : pass());
  } catch {
    // The tablet's database is closed: the next check tries again.
  } finally {
    isSending = false;
  }
}

async function sendInOrder(addresses) {
  for (const entry of await entries()) {
    if (entry.state !== SAVED) continue;
    for (const { id, state } of entry.photographs ?? []) {
      if (state === WAITING && !(await sendKept(addresses, entry.id, id))) return;
    }
  }
}

// Resolves with whether the next one may be sent.
async function sendKept(addresses, run, id) {
  const bytes = await pictureOf(id);
  const told = bytes ? await sendPhotograph(addresses, run, { id, bytes }) : lostPhotograph(say("this tablet no longer has it"));
  if (!told) return false;
  await changePhotograph(run, id, told, told.state === SAVED);
  if (told.state) return true;
  // Do not send half a megabyte every few seconds to a server that answers but does not take it.
  pausedUntil = performance.now() + PAUSE_MS;
  return false;
}

/** Send one photograph of a run that is saved; resolves with what changes for it, or null without an answer. */
export async function sendPhotograph(addresses, run, { id, bytes }) {
  const answer = await postPicture(`${addresses.runs}/${run}/photographs/${id}`, bytes);
  return answer && settled({ id }, answer).change;
}

/** The refused state of a photograph whose image data is lost, because of `what`. */
export function lostPhotograph(what) {
  return { state: REFUSED, problems: [{ field: "photograph", what, remedy: say("leave it out") }] };
}
