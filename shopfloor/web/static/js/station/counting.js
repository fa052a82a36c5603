// Counts holes live: each touch is kept on the tablet, so that a reload, a flat battery or another job loses nothing.
import { BOUNCE_MS } from "../behaviours/debounce.js";
import { fact, factNames, keepFact } from "../outbox/database.js";
import { say, sayCount } from "../words.js";

const HOLE = "h";
const SLIP = "s";
const BREAK = "b";

/** The touches so far, in order, as holes made, the hole of each slip and the hole of the break. */
export function tally(steps) {
  const told = { holes: 0, slips: [], broke: null };
  for (const step of steps) {
    if (step === HOLE) told.holes += 1;
    else if (step === SLIP) told.slips.push(told.holes + 1);
    else if (step === BREAK) told.broke = told.holes + 1;
  }
  if (told.broke) told.holes = told.broke;
  return told;
}

/** Whether the tap slipped in a hole that is neither finished nor broke it: its outcome is still open. */
export function isHalfDone({ holes, slips }) {
  return slips.length > 0 && slips.at(-1) > holes;
}

/** The holes of the slips, if they still agree with the figures of the form; else an empty text. */
export function slipHolesFor(raw) {
  const at = (raw.slip_holes ?? "").split(" ").filter(Boolean);
  const agrees = at.length === Number(raw.cutting_slips) && at.every((hole) => Number(hole) <= Number(raw.holes));
  return agrees ? at.join(" ") : "";
}

/** The name of the fact that keeps the count of this station, job and tap. */
export function nameOf(form) {
  const { job, tap } = form.elements;
  return `count ${form.dataset.station} | ${job.value} | ${tap.value}`;
}

/** Delete the count: its figures are saved. */
export function endCount(form) {
  return keepFact(nameOf(form), undefined);
}

export function startCounting(root, form) {
  const dialog = root.getElementById("counting");
  const open = form.querySelector("[data-count-open]");
  const part = (name) => dialog.querySelector(`[data-count-${name}]`);
  let steps = "";
  let touched = { step: "", at: -Infinity };

  const show = () => {
    const told = tally(steps);
    const next = told.broke ? say("Broken at hole {hole}", { hole: told.broke }) : say("Hole {hole}", { hole: told.holes + 1 });
    part("next").textContent = next;
    const made = sayCount(told.holes, "{n} hole made", "{n} holes made");
    const at = { holes: told.slips.join(", ") };
    const slips = told.slips.length ? sayCount(told.slips.length, "cutting slips in hole {holes}", "cutting slips in holes {holes}", at) : "";
    part("says").textContent = `${[made, slips].filter(Boolean).join("; ")}.`;
    for (const button of dialog.querySelectorAll("[data-count]")) button.disabled = told.broke !== null;
    part("back").disabled = steps === "";
    part("done").disabled = told.holes === 0 || isHalfDone(told);
    open.textContent = steps === "" ? say("Count live") : say("Go on counting ({holes})", { holes: told.holes });
  };
  const keep = async () => {
    try {
      await keepFact(nameOf(form), steps === "" ? undefined : steps);
      part("fault").textContent = "";
    } catch {
      part("fault").textContent = say("This tablet cannot keep the count: a reload would lose it. Make room on the tablet.");
    }
  };
  const touch = (step) => {
    const now = performance.now();
    // A drop of oil or a trembling finger touches twice; nobody taps two holes within that time.
    if (step === touched.step && now - touched.at < BOUNCE_MS) return;
    touched = { step, at: now };
    steps += step;
    show();
    keep();
  };
  const done = () => {
    fill(form, tally(steps));
    dialog.close();
  };

  dialog.addEventListener("click", (event) => {
    const button = event.target.closest("[data-count]");
    if (button && !button.disabled) touch(button.dataset.count);
  });
  part("back").addEventListener("click", () => {
    steps = steps.slice(0, -1);
    show();
    keep();
  });
  part("done").addEventListener("click", done);
  part("close").addEventListener("click", () => dialog.close());
  open.addEventListener("click", async () => {
    steps = (await fact(nameOf(form))) ?? "";
    part("for").textContent = `${form.elements.tap.value}, ${form.elements.job.value}`;
    part("others").textContent = await others(form);
    show();
    dialog.showModal();
    dialog.querySelector(".count-hole").focus();
  });
  open.hidden = false;
  const look = async () => {
    steps = (await fact(nameOf(form)).catch(() => "")) ?? "";
    show();
  };
  form.addEventListener("renewed", look);
  look();
}

// Batches of other jobs and taps that are half counted at this station.
async function others(form) {
  const start = `count ${form.dataset.station} | `;
  const names = (await factNames()).filter((name) => name.startsWith(start) && name !== nameOf(form));
  const told = await Promise.all(names.map(async (name) => halfCounted(name.slice(start.length).split(" | "), tally(await fact(name)).holes)));
  return told.length ? say("Counts not finished here: {batches}.", { batches: told.join("; ") }) : "";
}

function halfCounted([job, tap], holes) {
  return sayCount(holes, "{job} with {tap}: {n} hole", "{job} with {tap}: {n} holes", { job, tap });
}

function fill(form, { holes, slips, broke }) {
  const put = (name, value) => {
    form.elements[name].value = value;
    form.elements[name].dispatchEvent?.(new Event("input", { bubbles: true }));
  };
  put("holes", String(holes));
  put("cutting_slips", String(slips.length));
  put("slip_holes", slips.join(" "));
  put("broke_at_hole", broke === null ? "" : String(broke));
  const end = form.querySelector(`[name="tap_end"][value="${broke === null ? "still good" : "broken"}"]`);
  end.checked = true;
  end.dispatchEvent(new Event("change", { bubbles: true }));
}
