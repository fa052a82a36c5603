// A window over the page that asks for one of several tiles, for pages that work offline.
import { element } from "./elements.js";
import { limits } from "./limits.js";
import { say } from "./words.js";

let dialog = null;
let answered = null;
let closing = new AbortController();

/** Find the window in the page. */
export function startQuestions(root) {
  dialog = root.getElementById("question");
  dialog.querySelector("[data-question-close]").addEventListener("click", () => dialog.close());
  dialog.addEventListener("close", () => {
    closing.abort();
    answered?.(null);
    answered = null;
  });
}

function tile({ title, lines, value }) {
  const told = lines.filter(Boolean).map((line) => element("span", {}, line));
  return element("button", { type: "button", class: "tile", onclick: () => answer(value) }, element("strong", {}, title), ...told);
}

function answer(value) {
  const told = answered;
  answered = null;
  dialog.close();
  told?.(value);
}

/**
 * Ask; resolves with the value of the tile that was touched, with what was typed, or with null.
 *
 * @param {string} title
 * @param {{heading: string, tiles: {title: string, lines: string[], value: unknown}[]}[]} groups
 * @param {string | null} typed label of a field for a code, where one may be typed
 * @param {string | null} warning what must be read first
 * @param {((answer: (value: unknown) => void, closed: AbortSignal) => Element) | null} more another way to answer
 */
export function ask(title, groups, typed = null, warning = null, more = null) {
  const asked = opened(title);
  const ways = [...(typed ? [field(typed)] : []), ...(more ? [more(answer, closing.signal)] : [])];
  fill(...warned(warning), ...groups.filter((group) => group.tiles.length).flatMap(drawn), ...ways);
  return asked;
}

/** Close the window; what was asked in it stays unanswered. */
export function dismiss() {
  dialog.close();
}

function fill(...children) {
  dialog.querySelector("[data-question-body]").replaceChildren(...children);
}

// An earlier question stays unanswered.
function opened(title) {
  answered?.(null);
  closing.abort();
  closing = new AbortController();
  dialog.querySelector("h2").textContent = title;
  if (!dialog.open) dialog.showModal();
  return new Promise((resolve) => (answered = resolve));
}

function warned(warning) {
  return warning ? [element("p", { class: "with-sign" }, warning)] : [];
}

function drawn(group) {
  const tiles = element("div", { class: "tiles tiles-wide" }, ...group.tiles.map(tile));
  return group.heading ? [element("h3", {}, group.heading), tiles] : [tiles];
}

function field(label) {
  const input = element("input", { id: "typed-code", autocomplete: "off", autocapitalize: "off", maxlength: limits().longest_code });
  const send = (event) => {
    event.preventDefault();
    if (input.value.trim()) answer(input.value.trim());
  };
  const line = element("div", { class: "field" }, element("label", { for: "typed-code" }, label), input);
  return element("form", { class: "scan", onsubmit: send }, line, element("button", { class: "button" }, say("Use this one")));
}

/** Show something in the window. */
export function inform(title, ...children) {
  const asked = opened(title);
  fill(...children);
  return asked;
}
