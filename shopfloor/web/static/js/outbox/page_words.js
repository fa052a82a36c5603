// Puts what happened without network onto the station page.
import { button, element } from "./elements.js";
import { holesOf, newsSince } from "./news.js";
import { SAVED } from "./rules.js";
import { say } from "../words.js";

// What the server calls a field that has no input of its own here.
const NAMES = { job: say("job"), person: say("person"), run: say("run"), station: say("station"), tap: say("tap"), when: say("when") };

// What the page that the server draws is asked to tell: what it told here, or the news in its place.
let news = location.search;

/** Where this page is had anew, with its news: the server's line can be undone. */
export function addressAnew() {
  return location.pathname + news;
}

/** The line at the top of the tap's frame; only the newest counts. `asked` has the server tell it once it can. */
export function notice(text, tone, way = null, asked = news) {
  news = asked;
  for (const old of document.querySelectorAll(".told")) old.remove();
  const told = element("div", { class: `notice notice-${tone} told`, role: "status" }, element("p", {}, text), way && button(...way));
  document.getElementById("tap-here")?.prepend(told);
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

/** The error summary, as the server draws it. */
export function showFaults(form, faults) {
  document.getElementById("error-summary")?.remove();
  for (const old of form.querySelectorAll("[aria-invalid]")) old.removeAttribute("aria-invalid");
  const lines = faults.map((fault) => element("li", {}, lineOf(form, fault)));
  const list = element("ul", { class: "plain" }, ...lines);
  const summary = element("div", { class: "notice notice-bad", role: "alert", tabindex: "-1", id: "error-summary" });
  summary.append(element("h2", {}, say("There is a problem")), list);
  form.closest(".station").querySelector("h1").after(summary);
  const mark = `${say("Error:")} `;
  if (!document.title.startsWith(mark)) document.title = mark + document.title;
  summary.focus();
}

function lineOf(form, { field, what, remedy }) {
  const told = `${what}; ${remedy}`;
  const input = document.getElementById(field);
  if (!input || !form.contains(input) || input.type === "hidden") {
    const name = NAMES[field] ?? field;
    return element("a", { href: "#tap-here" }, `${name[0].toUpperCase()}${name.slice(1)}: ${told}`);
  }
  input.setAttribute("aria-invalid", "true");
  const label = form.querySelector(`label[for="${field}"]`) ?? input.querySelector("legend");
  const name = label.firstChild.textContent.trim();
  const goal = input.matches("fieldset") ? `${field}-0` : field;
  return element("a", { href: `#${goal}` }, `${name}${name.endsWith("?") ? "" : ":"} ${told}`);
}

/** Nothing is wrong any more. */
export function clearFaults() {
  document.getElementById("error-summary")?.remove();
  for (const old of document.querySelectorAll("[aria-invalid]")) old.removeAttribute("aria-invalid");
  const mark = `${say("Error:")} `;
  if (document.title.startsWith(mark)) document.title = document.title.slice(mark.length);
}
