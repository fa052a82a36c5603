// Puts what happened without network onto the station page.
import { button, element } from "./elements.js";
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

/** Holes that this tap made since the server was last told. */
export function showWaitingHoles(form, waiting) {
  const mine = waiting.filter((entry) => entry.sent.holes && entry.sent.tap === form.elements.tap.value && !entry.take_back);
  const holes = mine.reduce((sum, entry) => sum + Number(entry.sent.holes), 0);
  document.querySelector(".tap-holes .waiting-holes")?.remove();
  if (holes) document.querySelector(".tap-holes")?.append(element("span", { class: "waiting-holes" }, ` + ${say("{holes} on this tablet", { holes })}`));
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
