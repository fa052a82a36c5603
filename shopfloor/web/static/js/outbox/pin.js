// Asks for the PIN of somebody whose entries on this tablet wait for it.
import { say, sayCount } from "../words.js";
import { WAITING } from "./rules.js";
import { givePin } from "./sender.js";

let dialog = null;
let asked = null;

/** Whose entries wait for a PIN: code, name, and how many there are. */
export function pinsNeeded(kept) {
  const waiting = kept.filter((entry) => entry.state === WAITING);
  const people = new Map(waiting.filter((entry) => entry.needs_pin).map((entry) => [entry.sent.person, entry.told.person]));
  return [...people].map(([code, name]) => ({ code, name: name || code, count: waiting.filter((entry) => entry.sent.person === code).length }));
}

/** Ask for the PIN; `afterwards` is called once it was right. */
export function askPin(person, addresses, afterwards) {
  asked = { person, addresses, afterwards };
  part("#pin-title").textContent = say("PIN of {name}", { name: person.name });
  const what = sayCount(person.count, "{n} entry on this tablet is waiting for it.", "{n} entries on this tablet are waiting for it.");
  part("[data-pin-why]").textContent = `${what} ${say("If you have a password, type that instead.")}`;
  part("[data-pin-fault]").textContent = "";
  part("[data-pin]").value = "";
  if (!dialog.open) dialog.showModal();
}

export function startPinQuestion(root) {
  dialog = root.getElementById("pin");
  if (!dialog) return;
  part("[data-pin-close]").addEventListener("click", () => dialog.close());
  part("form").addEventListener("submit", async (event) => {
    event.preventDefault();
    const { person, addresses, afterwards } = asked;
    const fault = await givePin(addresses, person.code, part("[data-pin]").value);
    part("[data-pin]").value = "";
    part("[data-pin-fault]").textContent = fault ?? "";
    if (fault !== null) return;
    dialog.close();
    await afterwards();
  });
}

function part(selector) {
  return dialog.querySelector(selector);
}
