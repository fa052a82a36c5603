// The number of holes that is offered next, as what waits on the tablet changes it.
import { entries } from "./database.js";
import { newsSince, offeredPortion, soFarNow } from "./news.js";
import { drawnAt } from "./page_words.js";
import { say, written } from "../words.js";

const NOTHING_KNOWN = { last_batch: null, batch: null, left_on_job: null };

/** Offer what follows from the log and this tablet's own entries; a batch that goes on keeps its rest. */
export async function renewPortion(form) {
  const { id, batch_id: batch, job } = form.elements;
  if (batch.value !== id.value) return;
  const kept = await entries();
  if (batch.value !== id.value) return;
  const told = JSON.parse(form.dataset.soFar);
  const news = newsSince(kept, drawnAt()).filter(({ sent }) => sent.job === job.value);
  const largest = Number(document.getElementById("tray").dataset.largest);
  const portion = offeredPortion(soFarNow(told.job === job.value ? told : NOTHING_KNOWN, news, form.dataset.station), largest);
  show(form, portion?.holes, portion?.isLeft ? say("left on this job") : say("as last time"));
}

/** Offer the rest of a batch that goes on with another tap; nothing where nobody knows it. */
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
