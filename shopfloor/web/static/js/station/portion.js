// The number of holes that is offered next, with this tablet's own entries taken into account.
import { entries } from "../outbox/database.js";
import { entriesSince, soFarNow } from "../outbox/entries_since.js";
import { offeredPortion } from "./batch_rules.js";
import { drawnAt } from "../messages.js";
import { say, written } from "../words.js";

const NOTHING_KNOWN = { last_batch: null, batch: null, left_on_job: null };

/** Offer what follows from the log and this tablet's own entries; while a batch is unfinished, its rest stays offered. */
export async function renewPortion(form) {
  const { id, batch_id: batch, job } = form.elements;
  if (batch.value !== id.value) return;
  const kept = await entries();
  if (batch.value !== id.value) return;
  const told = JSON.parse(form.dataset.soFar);
  const since = entriesSince(kept, drawnAt()).filter(({ sent }) => sent.job === job.value);
  const portion = offeredPortion(soFarNow(told.job === job.value ? told : NOTHING_KNOWN, since, form.dataset.station));
  show(form, portion?.holes, portion?.isLeft ? say("left on this job") : say("as last time"));
}

/** Offer the rest of a batch that continues with another tap; nothing if the rest is not known. */
export function offerRest(form, rest) {
  show(form, rest, say("left of batch"));
}

function show(form, holes, why) {
  form.elements.offered.value = holes ?? "";
  const button = form.querySelector(".portion");
  button.hidden = !holes;
  button.dataset.value = holes ?? "";
  button.querySelector("strong").textContent = holes ? written(holes) : "";
  button.querySelector("span").textContent = holes ? why : "";
}
