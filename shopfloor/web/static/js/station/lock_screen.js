// The lock screen offline: a name is enough to continue, and the PIN is asked for later.
import { fact, keepFact } from "../outbox/database.js";
import { serverNow } from "../outbox/sender.js";
import { say } from "../words.js";

const READING_MS = 1500;

/** Let a person work at the station who has not given a PIN yet. */
export async function continueUnconfirmed(station, person) {
  const name = `place ${station}`;
  await keepFact(name, { ...(await fact(name)), person: { ...person, is_unconfirmed: true } });
  await keepFact("locked", undefined);
}

export function startLockScreen(root, addresses) {
  const screen = root.querySelector("[data-lock-screen]");
  const form = root.querySelector("[data-pin-page] form");
  if (screen || form) keepFact("locked", true).catch(() => undefined);
  screen?.addEventListener("click", async (event) => {
    const tile = event.target.closest("a[data-person]");
    if (!tile) return;
    event.preventDefault();
    if ((await serverNow(addresses)) !== null) return location.assign(tile.href);
    await continueOffline({ code: tile.dataset.person, name: tile.dataset.name }, screen.dataset.station);
  });
  form?.addEventListener("submit", async (event) => {
    if (event.defaultPrevented) return;
    event.preventDefault();
    if ((await serverNow(addresses)) !== null) return form.submit();
    const { person, name } = form.closest("[data-pin-page]").dataset;
    const says = form.querySelector("[data-pin-says]");
    says.hidden = false;
    says.textContent = say("The server does not answer. Go on: the PIN is asked for later.");
    setTimeout(() => continueOffline({ code: person, name }, ""), READING_MS);
  });
}

async function continueOffline(person, own) {
  const { stations } = document.getElementById("scanned").dataset;
  const next = new URLSearchParams(location.search).get("next") ?? "";
  const isOurs = next.startsWith(stations);
  const station = (isOurs && next.endsWith("/") && decodeURI(next.slice(stations.length, -1))) || own;
  if (!station) return location.assign(isOurs ? next : stations);
  await continueUnconfirmed(station, person);
  return location.assign(`${stations}${encodeURI(station)}/`);
}
