// The lock screen while the server does not answer: a name is enough to go on, and the PIN is asked for later.
import { fact, keepFact } from "./database.js";
import { serverNow } from "./sender.js";
import { say } from "../words.js";

const SAYS_MS = 1500;

/** Whoever is at the station from now on has not given a PIN yet. */
export async function takeUnconfirmed(station, person) {
  const name = `place ${station}`;
  await keepFact(name, { ...(await fact(name)), person: { ...person, is_unconfirmed: true } });
  await keepFact("locked", undefined);
}

export function startLockScreen(root, doors) {
  const screen = root.querySelector("[data-lock-screen]");
  const form = root.querySelector("[data-pin-page] form");
  if (screen || form) keepFact("locked", true).catch(() => undefined);
  screen?.addEventListener("click", async (event) => {
    const tile = event.target.closest("a[data-person]");
    if (!tile) return;
    event.preventDefault();
    if ((await serverNow(doors)) !== null) return location.assign(tile.href);
    await goOnWithout({ code: tile.dataset.person, name: tile.dataset.name }, screen.dataset.station);
  });
  form?.addEventListener("submit", async (event) => {
    if (event.defaultPrevented) return;
    event.preventDefault();
    if ((await serverNow(doors)) !== null) return form.submit();
    const { person, name } = form.closest("[data-pin-page]").dataset;
    const says = form.querySelector("[data-pin-says]");
    says.hidden = false;
    says.textContent = say("The server does not answer. Go on: the PIN is asked for later.");
    setTimeout(() => goOnWithout({ code: person, name }, ""), SAYS_MS);
  });
}

async function goOnWithout(person, own) {
  const next = new URLSearchParams(location.search).get("next") ?? "";
  const station = /^\/operator\/(.+)\/$/.exec(decodeURI(next))?.[1] ?? own;
  if (!station) return location.assign(next.startsWith("/operator/") ? next : "/operator/");
  await takeUnconfirmed(station, person);
  return location.assign(`/operator/${encodeURI(station)}/`);
}
