// Puts what happened without network onto the station page.
import { button, element } from "./elements.js";
import { holesOf, newsSince } from "./news.js";
import { SAVED } from "./rules.js";
import { say, sayCount } from "../words.js";

// What the server calls a field that has no input of its own here.
const NAMES = { job: say("job"), person: say("person"), run: say("run"), station: say("station"), tap: say("tap"), when: say("when") };

// What the page that the server draws is asked to tell: what it told here, or the news in its place.
let news = location.search;

/** Where this page is had anew, with its news: the server's line can be undone. */
export function addressAnew() {
  return location.pathname + news;
}

/** Have the page that is had anew tell of this entry. */
export function askForNews(id) {
  news = savedNews(id);
}

/** The part of an address that asks for the news of a saved entry. */
export function savedNews(id) {
  return `?saved=${id}`;
}

/** The line in the place for news; only the newest counts. `asked` has the server tell it once it can. */
export function notice(text, tone, way = null, asked = news) {
  news = asked;
  for (const old of document.querySelectorAll(".told")) old.remove();
  const told = element("div", { class: `notice notice-${tone} told`, role: "status" }, element("p", {}, text), way && button(...way));
  clearAtSave();
  document.getElementById("news")?.append(told);
}

/** When this page was drawn, in ms by the server's clock. */
export function drawnAt() {
  return Date.parse(document.getElementById("tray").dataset.drawn);
}

/** Holes that the tap in the station made since its figure was told: by the page, or by the list it was chosen from. */
export function showHolesSince(form, entries) {
  const place = document.querySelector(".tap-holes");
  if (!place) return;
  const mine = newsSince(entries, Number(place.dataset.at ?? drawnAt())).filter(({ sent }) => sent.tap === form.elements.tap.value);
  const holes = holesOf(mine);
  const told = mine.some(({ state }) => state === SAVED) ? say("{holes} since", { holes }) : say("{holes} on this tablet", { holes });
  place.querySelector(".waiting-holes")?.remove();
  if (holes) place.append(element("span", { class: "waiting-holes" }, ` + ${told}`));
}

/** Tell something at Save, over the place that is kept free: nothing moves. It takes the place of what was told there. */
export function tellAtSave(told) {
  document.getElementById("at-save").replaceChildren(told);
}

/** Ask something at Save, over the same place. */
export function askAtSave(question) {
  clearAtSave();
  document.getElementById("asked-at-save").replaceChildren(question);
}

/** Nothing is told at Save any more. */
export function clearAtSave() {
  document.getElementById("at-save")?.replaceChildren();
}

/** Save was touched once more: told beside the news, with its way to undo. */
export function tellNothingNew(form) {
  clearFaults();
  tellAtSave(element("p", { class: "notice notice-good calm", role: "status" }, say("Saved just now; nothing new to save.")));
  for (const kind of ["input", "filled", "change"]) form.addEventListener(kind, () => document.querySelector(".calm")?.remove(), { once: true });
}

/** What is wrong, as the server draws it: at the fields, and together at Save. */
export function showFaults(form, faults) {
  clearFaults();
  const lines = faults.map((fault) => element("li", {}, lineOf(form, fault)));
  const told = element("section", { class: "unsaved", role: "alert", tabindex: "-1", id: "error-summary" });
  const yet = say("Not saved yet");
  const heading = sayCount(faults.length, "{yet}: {n} thing to put right", "{yet}: {n} things to put right", { yet });
  told.append(element("h2", {}, heading), element("ol", {}, ...lines));
  tellAtSave(told);
  const mark = `${say("Error:")} `;
  if (!document.title.startsWith(mark)) document.title = mark + document.title;
  told.focus();
}

function lineOf(form, { field, what, remedy }) {
  const advice = `${what}; ${remedy}`;
  const input = document.getElementById(field);
  if (!input || !form.contains(input) || input.type === "hidden") {
    const name = NAMES[field] ?? field;
    return element("a", { href: "#tap-here" }, `${name[0].toUpperCase()}${name.slice(1)}: ${advice}`);
  }
  const label = form.querySelector(`label[for="${field}"]`) ?? input.querySelector("legend");
  tellAtField(input, label, advice[0].toUpperCase() + advice.slice(1));
  const name = label.firstChild.textContent.trim();
  const goal = input.matches("fieldset") ? `${field}-0` : field;
  const lead = element("span", {}, `${name}${name.endsWith("?") ? "" : ":"}`);
  // Where its field is folded away, the words are not in sight there.
  const looks = label.checkVisibility?.() === false ? null : "advice-at-field";
  return element("a", { href: `#${goal}` }, lead, " ", element("span", { class: looks }, advice));
}

function tellAtField(input, label, words) {
  const id = `${input.id}-error`;
  const told = document.getElementById(id);
  if (told) return told.append(element("div", {}, words));
  input.setAttribute("aria-invalid", "true");
  input.setAttribute("aria-describedby", [...describedBy(input), id].join(" "));
  return label.after(element("div", { class: "field-error", id }, element("div", {}, words)));
}

function describedBy(input) {
  return (input.getAttribute("aria-describedby") ?? "").split(" ").filter(Boolean);
}

/** Nothing is wrong any more. */
export function clearFaults() {
  clearAtSave();
  for (const old of document.querySelectorAll(".log .field-error[id]")) {
    const input = document.getElementById(old.id.replace(/-error$/, ""));
    input?.removeAttribute("aria-invalid");
    input?.setAttribute("aria-describedby", describedBy(input).filter((id) => id !== old.id).join(" "));
    old.remove();
  }
  const mark = `${say("Error:")} `;
  if (document.title.startsWith(mark)) document.title = document.title.slice(mark.length);
}
