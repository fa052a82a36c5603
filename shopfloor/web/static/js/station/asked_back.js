// Asks back odd numbers, at the field and at the button, as the server does; one touch confirms them.
import { button, element } from "../elements.js";
import { entries } from "../outbox/database.js";
import { holesOf, entriesSince } from "../outbox/entries_since.js";
import { drawnAt } from "../messages.js";
import { doubtsOf } from "./batch_rules.js";
import { listsOf } from "./choices.js";
import { say } from "../words.js";

/** What typed numbers are compared with: what the page or the kept lists say, less what waits on this tablet. */
export async function usualOf(form) {
  const { holes, job, offered } = form.elements;
  const usual = JSON.parse(form.dataset.usual);
  const mine = entriesSince(await entries(), drawnAt()).filter(({ sent }) => sent.job === job.value);
  const left = typeof usual.left === "number" ? usual.left - holesOf(mine) : null;
  return { ...usual, left, offered: Number(offered.value || holes.dataset.offered || 0) };
}

/**
 * The names of the confirmed fields, for the record; null if a number is implausible and `sure` does not confirm it.
 *
 * In that case the question is asked; `show` gets it and puts it where it belongs.
 */
export function confirmedIn(form, raw, usual, sure, show) {
  const doubts = doubtsOf(raw, usual);
  const marks = new Set(sure.split(" "));
  clearQuestion();
  if (doubts.every(({ mark }) => marks.has(mark))) return doubts.map(({ field }) => field).join(" ");
  askBack(form, doubts, show);
  return null;
}

/** As `confirmedIn`, for a refused entry that is corrected in the tray; what was confirmed before is not asked again. */
export async function confirmCorrected(form, sent, corrected, sure) {
  const lists = await listsOf(sent.station);
  const usual = lists?.jobs.find((job) => job.code === sent.job)?.usual ?? {};
  const before = (sent.confirmed ?? "").split(" ").map((field) => `${field}=${sent[field]}`);
  const show = (question) => form.querySelector(".button-main").after(question);
  return confirmedIn(form, corrected, { ...usual, left: null }, `${sure} ${before.join(" ")}`, show);
}

/** Remove the question. */
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
  for (const change of ["input", "filled", "renewed"]) form.addEventListener(change, clearQuestion, { once: true });
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
