// The tablet itself: its service worker, the stations it can open offline, and its possible failures.
import { element } from "../elements.js";
import { say } from "../words.js";
import { factNames } from "./database.js";

const LOW_BYTES = 5_000_000;
let isNewVersion = false;

/** Register the service worker, which serves the pages while the server is away. */
export function registerWorker({ worker }) {
  if (!("serviceWorker" in navigator)) return;
  const had = navigator.serviceWorker.controller !== null;
  navigator.serviceWorker.register(worker).catch(() => undefined);
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (had) isNewVersion = true;
  });
}

/**
 * What can wait until the page is idle: activate a waiting worker, and have the active one keep the handbook.
 *
 * A new worker asks to be activated as soon as it is installed, but browsers may drop the request while the old worker is
 * busy, and would then keep it waiting for minutes.
 */
export async function tendWorker() {
  const { waiting, active } = (await navigator.serviceWorker?.getRegistration()) ?? {};
  waiting?.postMessage("activate");
  active?.postMessage("keep-handbook");
}

/** What the tray warns of: what does not work on this tablet, and what soon may not. */
export async function tabletWarnings() {
  const lines = [];
  if (!("serviceWorker" in navigator)) {
    lines.push(say("This address is not https: an open page keeps its entries offline, but cannot be opened again. Keep it open."));
  }
  if (isNewVersion) lines.push(say("A newer version of these pages is available: reload the page when no batch is half typed."));
  const storage = await navigator.storage?.estimate?.();
  if (storage && storage.quota - storage.usage < LOW_BYTES) lines.push(say("This tablet's storage is almost full: make room before entries can no longer be kept."));
  return lines.map((line) => element("p", { class: "notice notice-warn" }, line));
}

/** List the stations that can be opened offline, on the page shown in place of one that cannot. */
export async function listStations(root) {
  const list = root.querySelector("[data-kept-stations]");
  if (!list) return;
  const names = (await factNames()).filter((name) => name.startsWith("lists ")).map((name) => name.slice("lists ".length));
  const tiles = names.map((name) => element("a", { class: "tile", href: `${list.dataset.keptStations}${encodeURI(name)}/` }, element("strong", {}, name)));
  list.replaceChildren(...tiles);
}
