// Messages on the station page: the newest news, and what is wrong, at the fields and at Save.
import { button, element } from "./elements.js";
import { say, sayCount } from "./words.js";

// Names of fields that have no input of their own on the page.
const NAMES = { job: say("job"), person: say("person"), run: say("run"), station: say("station"), tap: say("tap"), when: say("when") };

// The query with which the server is asked to draw this page: the news that it then shows.
let news = location.search;

/** The address that reloads this page with its news, as a line of the server's that can be undone. */
export function reloadAddress() {
  return location.pathname + news;
}

/** Have the server show this entry as news on the next page, where it would show an older one. */
export function askForNewer(id) {
  if (news) news = savedNews(id);
}

/** The query with which the server shows the news of a saved entry. */
export function savedNews(id) {
  return `?saved=${id}`;
}

/** Show news; the newest replaces all others. `asked` is the query with which the server shows the same once it can. */
export function notice(text, tone, way = null, asked = news) {
  news = asked;
  for (const old of document.querySelectorAll(".told")) old.remove();
  const told = element("div", { class: `notice notice-${tone} told`, role: "status" }, element("p", {}, text), way && button(...way));
  clearAtSave();
  document.getElementById("news")?.append(told);
}

/** When the server drew this page, in ms by its clock. */
export function drawnAt() {
  return Date.parse(document.getElementById("tray").dataset.drawn);
}

/** Show something at Save, in the space kept free for it, so that nothing moves; it replaces what was shown there. */
export function showAtSave(told) {
  document.getElementById("at-save").replaceChildren(told);
}

/** Ask something at Save, in the same space. */
export function askAtSave(question) {
  clearAtSave();
  document.getElementById("asked-at-save").replaceChildren(question);
}

/** Clear what is shown at Save. */
export function clearAtSave() {
  document.getElementById("at-save")?.replaceChildren();
}

/** Save was touched again with nothing new to save; the news with its Undo stays beside it. */
export function showNothingNew(form) {
  clearFaults();
  showAtSave(element("p", { class: "notice notice-good calm", role: "status" }, say("Saved just now; nothing new to save.")));
  for (const kind of ["input", "filled", "change"]) form.addEventListener(kind, () => document.querySelector(".calm")?.remove(), { once: true });
}

/** Show what is wrong as the server does: at the fields, and together at Save. */
export function showFaults(form, faults) {
  clearFaults();
  const lines = faults.map((fault) => element("li", {}, lineOf(form, fault)));
  const told = element("section", { class: "unsaved", role: "alert", tabindex: "-1", id: "error-summary" });
  const yet = say("Not saved yet");
  const heading = sayCount(faults.length, "{yet}: {n} thing to correct", "{yet}: {n} things to correct", { yet });
  told.append(element("h2", {}, heading), element("ol", {}, ...lines));
  showAtSave(told);
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
  // Where the field is folded away, its message there cannot be seen.
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

/** Clear all faults. */
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
