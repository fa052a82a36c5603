// The tray: every entry of this tablet, its state, and the ways to settle one that the server refused.
import { change, changePhotograph, entries, keep, onChange } from "./database.js";
import { askPin, pinsNeeded } from "./pin.js";
import { button, element } from "../elements.js";
import { limits } from "../limits.js";
import { newId } from "./ids.js";
import { ASIDE, REFUSED, SAVED, TAKEN_BACK, WAITING, describe, photographsOf } from "./rules.js";
import { clockTime, say, sayCount } from "../words.js";

const STANDING = {
  [WAITING]: ["warn", say("On this tablet")],
  [REFUSED]: ["bad", say("Needs attention")],
  [SAVED]: ["good", say("Saved")],
  [TAKEN_BACK]: ["none", say("Undone")],
  [ASIDE]: ["none", say("Set aside")],
};
const CLOCK_OFF_MS = 120_000;

/** Take an entry back: at once where it was never sent, else as soon as the server has answered for it. */
export function takeBack(id, send) {
  const how = (entry) => (entry.attempts ? { take_back: true } : { state: TAKEN_BACK });
  return change(id, (entry) => (entry.state === WAITING ? how(entry) : {})).then(send);
}

/**
 * Hook the tray; returns the function that opens it.
 *
 * @param {{send: Function, warnings: Function, confirm: Function}} ways to send what waits, to warn of what may go wrong on
 *     the tablet, and to query implausible numbers in a corrected entry
 */
export function startTray(tray, ways, addresses) {
  tray.querySelector("[data-tray-close]").addEventListener("click", () => tray.close());
  const show = async () => {
    const kept = await entries();
    kept.sort((one, other) => rank(one) - rank(other) || other.order - one.order);
    const lines = kept.map((entry) => line(entry, ways));
    const none = element("li", {}, element("p", { class: "notice" }, say("Nothing has been logged on this tablet yet.")));
    tray.querySelector("[data-tray-list]").replaceChildren(...(lines.length ? lines : [none]));
    tray.querySelector("[data-tray-facts]").replaceChildren(...pinsNeeded(kept).map((person) => pinLine(person, addresses, ways.send)), ...(await ways.warnings()));
  };
  // A form in which somebody types must not be replaced.
  onChange(() => (tray.open && !tray.querySelector("form") ? show() : undefined));
  return async () => {
    await show();
    tray.showModal();
  };
}

// What needs attention comes first, then what waits.
function rank(entry) {
  const states = [entry.state, ...photographsOf(entry).map((one) => one.state)];
  return states.includes(REFUSED) ? 0 : states.includes(WAITING) ? 1 : 2;
}

function pinLine(person, addresses, send) {
  const what = sayCount(person.count, "{n} entry is waiting for the PIN of {name}", "{n} entries are waiting for the PIN of {name}", { name: person.name });
  const words = element("p", {}, what);
  const give = button(say("Give the PIN"), () => askPin(person, addresses, send), "button button-main");
  return element("div", { class: "notice notice-warn told" }, words, give);
}

function line(entry, ways) {
  const [tone, words] = STANDING[entry.state];
  const isWaiting = entry.state === WAITING;
  const said = isWaiting && entry.take_back ? say("Will be undone") : isWaiting && entry.needs_pin ? say("Waiting for the PIN") : words;
  const what = element(
    "div",
    { class: "entry-what" },
    element("p", {}, element("strong", {}, describe(entry))),
    element("p", { class: "evidence" }, details(entry).join(". ")),
    ...faultLines(entry),
    ...photographsOf(entry).map((one, place, all) => photographLine(entry, one, all.length > 1 ? ` ${place + 1}` : "", ways.send)),
  );
  const state = element("div", { class: "entry-standing" }, element("span", { class: `state state-${tone}` }, said));
  const buttons = element("div", { class: "entry-ways" }, ...buttonsFor(entry, ways));
  return element("li", { class: "entry", "data-entry": entry.id }, what, state, buttons);
}

function faultLines({ problems = [] }) {
  return problems.map((problem) => element("p", { class: "field-error" }, `${problem.what}; ${problem.remedy}`));
}

function photographLine(entry, photograph, number, send) {
  const [tone, words] = STANDING[photograph.state];
  const said = photograph.needs_pin && photograph.state === WAITING ? say("Waiting for the PIN") : words;
  const turn = (state) => changePhotograph(entry.id, photograph.id, { state, problems: [] }).then(send);
  const ways = photograph.state === REFUSED ? [button(say("Send it again"), () => turn(WAITING)), button(say("Leave it out"), () => turn(ASIDE))] : [];
  const state = element("span", { class: `state state-${tone}` }, said);
  return element("div", { class: "entry-photograph" }, element("p", {}, say("Photograph"), `${number}: `, state), ...faultLines(photograph), ...ways);
}

function details(entry) {
  const off = entry.clock_off ?? 0;
  const far = Math.round(Math.abs(off) / 60_000);
  return [
    [clockTime(entry.at), entry.told.person, entry.told.station, entry.sent.job].filter(Boolean).join(", "),
    Math.abs(off) > CLOCK_OFF_MS ? clockOff(off, far) : "",
    entry.is_unconfirmed && entry.state === WAITING ? say("Not confirmed by PIN") : "",
    entry.reason ? say("Reason: {reason}", { reason: entry.reason }) : "",
    entry.sent_again_as ? say("Corrected and sent again") : "",
  ].filter(Boolean);
}

function clockOff(off, minutes) {
  return off < 0
    ? say("This tablet's clock was {minutes} min ahead; the server's clock counts", { minutes })
    : say("This tablet's clock was {minutes} min behind; the server's clock counts", { minutes });
}

function buttonsFor(entry, { send, confirm }) {
  if (entry.state === WAITING && !entry.take_back) return [button(say("Undo"), () => takeBack(entry.id, send))];
  if (entry.state !== REFUSED) return [];
  const aside = button(say("Set aside"), (event) => askReason(entry, event.target.closest("li")));
  if (entry.is_stored) return [aside];
  const again = button(say("Send again"), () => change(entry.id, () => ({ state: WAITING, problems: [] })).then(send));
  const edit = entry.kind === "run" ? [button(say("Correct"), (event) => putRight(entry, event.target.closest("li"), send, confirm))] : [];
  return [...edit, again, aside];
}

function ask(line, fields, label, onsubmit, isOdd = () => false) {
  const form = element("form", { class: "settle" }, ...fields, element("button", { class: "button button-main" }, label));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const said = Object.fromEntries(new FormData(form, event.submitter));
    if (await isOdd(form, said)) return;
    form.remove();
    await onsubmit(said);
  });
  line.querySelector("form")?.remove();
  line.append(form);
  form.querySelector("input, select, textarea").focus();
}

function askReason(entry, line) {
  const input = element("textarea", { id: "aside-reason", name: "reason", rows: "2", maxlength: limits().longest_note, required: true });
  const field = element("div", { class: "field" }, element("label", { for: "aside-reason" }, say("Why should it not be sent?")), input);
  ask(line, [field], say("Set it aside"), ({ reason }) => change(entry.id, () => ({ state: ASIDE, reason: reason.trim() || say("not said") })));
}

function putRight(entry, line, send, confirm) {
  const fields = document.getElementById("kept-fields").content.cloneNode(true);
  for (const input of fields.querySelectorAll("[name]")) input.value = entry.sent[bare(input.name)] ?? "";
  const isOdd = async (form, said) => {
    const confirmed = await confirm(form, entry.sent, { ...entry.sent, ...bareOf(said) }, said.sure ?? "");
    said.confirmed = confirmed ?? "";
    return confirmed === null;
  };
  ask(line, [fields], say("Send it under a new id"), (said) => sendAgain(entry, said).then(send), isOdd);
}

function bare(name) {
  return name.replace(/^kept-/, "");
}

function bareOf(said) {
  return Object.fromEntries(Object.entries(said).map(([name, value]) => [bare(name), value.trim()]));
}

// The refused entry stays as it was; what is sent is a new entry of the same work, at the same time.
async function sendAgain(entry, said) {
  const { sure: _said, ...typed } = bareOf(said);
  const merged = { ...entry.sent, ...typed, id: newId() };
  const sent = Object.fromEntries(Object.entries(merged).filter(([, value]) => value !== ""));
  const { order: _, reason: __, ...rest } = entry;
  await keep({ ...rest, id: sent.id, sent, state: WAITING, attempts: 0, problems: [] });
  await change(entry.id, () => ({ state: ASIDE, sent_again_as: sent.id, photographs: [] }));
}
