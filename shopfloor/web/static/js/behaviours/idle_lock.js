// Locks the tablet when nobody has touched it for a while, but never while a form is half filled.
import { markUnchanged, isChanged } from "./form_changes.js";

const CHECK_MS = 5000;
const TELL_MS = 60_000;

let lockOffline = () => undefined;

/** Call `how` if the server does not answer and the tablet must lock on its own. */
export function onOfflineLock(how) {
  lockOffline = how;
}

export function startIdleLock(root) {
  const forms = [...root.querySelectorAll("form[method=post]")];
  forms.forEach(markUnchanged);
  const { idleMinutes, lock, here, tiles } = root.body.dataset;
  if (!idleMinutes) return;
  let touchedAt = Date.now();
  let toldAt = Date.now();
  let isLocking = false;
  const touched = () => (touchedAt = Date.now());
  for (const kind of ["pointerdown", "keydown", "input"]) root.addEventListener(kind, touched, { capture: true, passive: true });
  const check = async () => {
    const now = Date.now();
    if (now - touchedAt < idleMinutes * 60_000) {
      if (touchedAt > toldAt && now - toldAt > TELL_MS) {
        toldAt = now;
        await post(here);
      }
      return;
    }
    if (isLocking || forms.some(isChanged) || root.querySelector("dialog[open]")) return;
    isLocking = true;
    if (await post(lock)) location.assign(`${tiles}?next=${encodeURIComponent(location.pathname)}`);
    else await lockOffline();
    touchedAt = Date.now();
    isLocking = false;
  };
  setInterval(check, CHECK_MS);
  root.addEventListener("visibilitychange", () => root.visibilityState === "visible" && check());
}

async function post(address) {
  try {
    const headers = { "Content-Type": "application/json" };
    const answer = await fetch(address, { method: "POST", headers, body: "{}", cache: "no-store", redirect: "manual" });
    return answer.status === 200 && "logged_in" in (await answer.json());
  } catch {
    return false;
  }
}
