// Drafts: a half-filled batch is kept for the person it belongs to while somebody else uses the tablet.
import { isChanged } from "../behaviours/form_changes.js";
import { fact, keepFact } from "./database.js";
import { notice } from "../messages.js";
import { say } from "../words.js";

const nameOf = (form) => `draft ${form.dataset.station} | ${form.elements.person.value}`;
const CHOSEN = new Set(["radio", "checkbox"]);

function fieldsOf(form) {
  return [...form.elements].filter((field) => field.name && (field.type !== "hidden" || field.name === "slip_holes"));
}

/** Keep what is half typed for the person who typed it. */
export async function saveDraft(form) {
  if (!isChanged(form)) return;
  const fields = fieldsOf(form).map((field) => [field.name, field.value, CHOSEN.has(field.type) ? field.checked : null]);
  const { job, tap } = form.elements;
  await keepFact(nameOf(form), { job: job.value, tap: tap.value, fields });
}

/** Restore what this person had half typed, if it is still about this job and tap. */
export async function restoreDraft(form) {
  const draft = await fact(nameOf(form));
  const { job, tap } = form.elements;
  if (!draft || draft.job !== job.value || draft.tap !== tap.value) return;
  for (const [name, value, isChosen] of draft.fields) put(form, name, value, isChosen);
  await keepFact(nameOf(form), undefined);
  notice(say("What you had typed has been restored."), "good");
}

function put(form, name, value, isChosen) {
  const fields = fieldsOf(form).filter((field) => field.name === name);
  const field = isChosen === null ? fields[0] : fields.find((each) => each.value === value);
  if (!field) return;
  if (isChosen === null) field.value = value;
  else field.checked = isChosen;
  if (isChosen !== false) field.dispatchEvent(new Event(isChosen ? "change" : "input", { bubbles: true }));
}
