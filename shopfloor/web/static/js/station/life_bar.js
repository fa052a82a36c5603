// Holes so far, holes to come and the suggested change, drawn as the server's pages draw them.
import { element } from "../elements.js";
import { limits } from "../limits.js";
import { say } from "../words.js";

const SVG = "http://www.w3.org/2000/svg";

/** Shares of the bar's length, in percent: {made, coming, change}. */
export function shares(made, next, changeAt, { bar_room: room } = limits()) {
  const length = room * Math.max(made + next, changeAt ?? 0, 1);
  const share = (holes) => Math.round((1e4 * holes) / length) / 100;
  return { made: share(made), coming: share(next), change: changeAt === null ? null : share(changeAt) };
}

/** The bar and its key. */
export function lifeBar(holes, next, changeAt) {
  const { made, coming, change } = shares(holes, next, changeAt);
  const parts = [rect("ground", 0, 100), rect("made", 0, made), rect("coming", made, coming)];
  if (change !== null) parts.push(rect("edge", change - 0.8, 2.4), rect("change", change, 0.8));
  const bar = drawn("svg", { class: "life-bar", viewBox: "0 0 100 10", preserveAspectRatio: "none", role: "img", "aria-label": label(holes, next, changeAt) });
  bar.append(...parts);
  const key = element("ul", { class: "life-bar-key plain", "aria-hidden": "true" }, line("made", say("so far")), line("coming", say("next {holes}", { holes: next })), change === null ? null : line("change", say("change")));
  return [bar, key];
}

function label(holes, next, changeAt) {
  const told = say("{made} holes so far, {coming} to come", { made: holes, coming: next });
  return changeAt === null ? told : say("{so_far}, change suggested at {holes}", { so_far: told, holes: changeAt });
}

function rect(part, x, width) {
  return drawn("rect", { class: `life-bar-${part}`, x, width, height: 10 });
}

function line(part, text) {
  return element("li", { class: `key-${part}` }, text);
}

function drawn(name, attributes) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}
