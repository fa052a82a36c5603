// The risk of the tap in the station from a kept table: pure rules, no network, no clock.
import { limits } from "../limits.js";
import { say, sayCount } from "../words.js";

/**
 * Chance of a break [value, lower, upper] in the next holes of a tap, `since` holes after the table was drawn up.
 *
 * The cumulative hazard is interpolated linearly between the table's figures; outside them the answer is null.
 */
export function riskAt({ further, batches, risks }, since, next) {
  const row = located(further, since);
  const column = located([0, ...batches], next);
  if (!row || !column || risks.some((line) => line.includes(null))) return null;
  const hazard = (r, c, which) => (c === 0 ? 0 : -Math.log1p(-Math.min(risks[r][c - 1][which], 1 - 1e-12)));
  return [0, 1, 2].map((which) => {
    const along = (r) => interpolated(hazard(r, column.at, which), hazard(r, column.at + 1, which), column.part);
    return -Math.expm1(-interpolated(along(row.at), along(row.at + 1), row.part));
  });
}

// The two figures that a number lies between, and how far along.
function located(figures, number) {
  const at = figures.findIndex((_, n) => n + 1 < figures.length && figures[n] <= number && number <= figures[n + 1]);
  return at < 0 ? null : { at, part: (number - figures[at]) / (figures[at + 1] - figures[at]) };
}

function interpolated(one, other, part) {
  return one + part * (other - one);
}

/** A chance as people say it, in the server's words. */
export function chance(value) {
  if (value > 0.5) return say("more likely than not");
  if (value < 1e-4) return say("less than 1 in {n}", { n: 10_000 });
  const n = 1 / value;
  const grain = n < 20 ? 1 : n < 50 ? 5 : 10 ** Math.floor(Math.log10(n));
  return say("1 in {n}", { n: roundedToEven(n / grain) * grain });
}

// A half goes to the even number, as Python rounds: 1 in 12.5 must not be 13 here and 12 there.
function roundedToEven(number) {
  const nearest = Math.round(number);
  return nearest - number === 0.5 && nearest % 2 ? nearest - 1 : nearest;
}

/**
 * What to do about a tap with so many holes before a batch of so many: as `core.pool.decision` decides it.
 *
 * `early` and `late` are the holes at which a change loses as much as each of `levels`; tables kept by older versions
 * lack them, and `stop`: then the change is due at exactly `change_at`.
 */
export function decide({ change_at: at, early, late = early, stop = 0 }, made, batch, { flat, levels } = limits()) {
  const ages = (given) => given ?? levels.map(() => at);
  if (at === null) return "run on";
  if (made >= at) return "change now";
  const end = made + batch;
  if (end <= at) return end + batch > at && decide({ change_at: at, early, late, stop }, end, batch, { flat, levels }) === "change now" ? "change after" : "carry on";
  const now = lostAt(made, at, ages(early), levels);
  const then = lostAt(end, at, ages(late), levels);
  const least = Math.min(now, then, stop);
  if (then - least <= flat) return "change after";
  return now - least <= flat ? "change now" : "change within";
}

// What a change after so many holes loses, interpolated linearly between two levels.
function lostAt(holes, at, ages, levels) {
  const away = Math.abs(holes - at);
  let before = 0;
  let below = 0;
  for (const [n, age] of ages.entries()) {
    const there = Math.abs(age - at);
    if (away < there || !away) return below + ((levels[n] - below) * (away - before)) / Math.max(1, there - before);
    before = there;
    below = levels[n];
  }
  return below;
}

/** What to do about the tap: {text, tone}. */
export function suggestion(advice, since, next) {
  const made = advice.made + since;
  const action = decide(advice, made, next);
  const left = advice.change_at - made;
  return { text: sentence(action, { age: advice.change_at, left }), tone: { "run on": "none", "carry on": "good" }[action] ?? "warn" };
}

function sentence(action, told) {
  if (action === "run on") return say("No change in time is suggested.");
  if (action === "change within") return say("Change after hole {left} of this batch: best changed after {age} holes.", told);
  if (action === "change after") return say("Carry on, and change after this batch: best changed after {age} holes, the end of it will do.", told);
  if (action === "carry on") return say("Carry on: best changed after {age} holes, {left} left.", told);
  if (told.left > 0) return say("Fit a fresh tap now: best changed after {age} holes, {left} earlier will do.", told);
  return say("Fit a fresh tap now: best changed after {age} holes.", told);
}

/** The odds of the next batch and what is usual: {odds, of, interval, isHigh}, or null where the table does not reach so far. */
export function odds(advice, since, next) {
  const risk = riskAt(advice, since, next);
  if (risk === null) return null;
  const [value, lower, upper] = risk;
  const told = chance(value);
  const ends = intervalOf(lower, upper);
  return {
    odds: /^\d/.test(told) ? say("About {odds}", { odds: told }) : `${told[0].toUpperCase()}${told.slice(1)}`,
    of: besideUsual(say("to break in the next {holes} holes", { holes: next }), advice, next),
    interval: say("{level}\u00a0% interval {odds}", { level: Math.round(100 * advice.level), odds: ends }),
    isHigh: value >= limits().high_risk,
  };
}

/** The ends of an interval as people say them; one that both round to is said once. */
export function intervalOf(lower, upper) {
  if (lower > 0.5) return say("above 1 in 2");
  const [low, high] = [lower, upper].map(chance);
  return low === high ? low : say("{low} to {high}", { low, high });
}

function besideUsual(told, { usual_rate: rate }, next) {
  return rate == null ? told : say("{told}; usual for this job is {chance}", { told, chance: chance(-Math.expm1(-rate * next)) });
}

/** How long ago, in the fewest words. */
export function ago(ms) {
  const minutes = Math.max(0, Math.round(ms / 60_000));
  if (minutes < 60) return say("{n} min ago", { n: minutes });
  if (minutes < 48 * 60) return say("{n} h ago", { n: Math.round(minutes / 60) });
  return sayCount(Math.round(minutes / 1440), "{n} day ago", "{n} days ago");
}
