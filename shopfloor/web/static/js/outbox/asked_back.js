// An odd number is asked back, at its field and at the button, as the server draws it; one touch confirms it.
import { button, element } from "./elements.js";
import { entries } from "./database.js";
import { holesOf, newsSince } from "./news.js";
import { drawnAt } from "./page_words.js";
import { doubtsOf } from "./rules.js";
import { say } from "../words.js";

/** What typed numbers are held to: what the page or the kept lists say, less what waits on this tablet. */
export async function usualOf(form) {
  const { holes, job, offered } = form.elements;
  const usual = JSON.parse(form.dataset.usual);
  const mine = newsSince(await entries(), drawnAt()).filter(({ sent }) => sent.job === job.value);
  const left = typeof usual.left === "number" ? usual.left - holesOf(mine) : null;
  return { ...usual, left, offered: Number(offered.value || holes.dataset.offered || 0) };
}

/**
 * The words of what is confirmed, for the record; null where something is odd and `sure` does not confirm it.
 *
 * Then the form asks; `show` gets the question and puts it where it belongs.
 */
export function confirmedIn(form, raw, usual, sure, show) {
  const doubts = doubtsOf(raw, usual);
  const marks = new Set(sure.split(" "));
  clearQuestion();
  if (doubts.every(({ mark }) => marks.has(mark))) return doubts.map(({ field }) => field).join(" ");
  askBack(form, doubts, show);
  return null;
}

/** Nothing is asked any more. */
export function clearQuestion() {
  for (const old of document.querySelectorAll("#asked-back, .field-doubt")) old.remove();
  for (const field of document.querySelectorAll("[aria-describedby*='-doubt']")) {
    const others = field.getAttribute("aria-describedby").split(" ").filter((id) => !id.endsWith("-doubt"));
    field.setAttribute("aria-describedby", others.join(" "));
  }
}

function askBack(form, doubts, show) {
  const lines = doubts.map((doubt) => element("span", {}, lineOf(form, doubt)));
  const all = doubts.map(({ answer }) => answer).join(", ");
  const yes = element("button", { class: "button asked-yes", name: "sure", value: doubts.map(({ mark }) => mark).join(" ") }, say("Yes, {all}", { all }));
  const no = button(say("No, change it"), () => {
    clearQuestion();
    fieldOf(form, doubts[0]).focus();
  });
  const words = element("p", {}, element("strong", {}, say("Is this right?")), ...lines.flatMap((line) => [" ", line]));
  const question = element("div", { class: "asked-back", id: "asked-back", role: "alert", tabindex: "-1" }, words, element("div", { class: "asked-ways" }, yes, no));
  show(question);
  for (const news of ["input", "filled", "renewed"]) form.addEventListener(news, clearQuestion, { once: true });
  question.focus();
}

function fieldOf(form, { field }) {
  return form.elements[field] ?? form.elements[`kept-${field}`];
}

function lineOf(form, doubt) {
  const field = fieldOf(form, doubt);
  const label = form.querySelector(`label[for="${field.id}"]`);
  const told = element("div", { class: "field-doubt", id: `${field.id}-doubt` }, doubt.question);
  label.after(told);
  field.setAttribute("aria-describedby", `${field.getAttribute("aria-describedby") ?? ""} ${told.id}`.trim());
  if (field.closest("details")) field.closest("details").open = true;
  return `${label.firstChild.textContent.trim()}: ${doubt.question}`;
}
