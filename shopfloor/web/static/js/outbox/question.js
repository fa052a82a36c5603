// Asks for one of several tiles in a window over the page, for the time without network.
import { element } from "./elements.js";
import { say } from "../words.js";

let window_ = null;
let answered = null;
let closing = new AbortController();

/** Find the window in the page. */
export function startQuestions(root) {
  window_ = root.getElementById("question");
  window_.querySelector("[data-question-close]").addEventListener("click", () => window_.close());
  window_.addEventListener("close", () => {
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
  window_.close();
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
  window_.close();
}

function fill(...children) {
  window_.querySelector("[data-question-body]").replaceChildren(...children);
}

// Who asked before gets no answer any more.
function opened(title) {
  answered?.(null);
  closing.abort();
  closing = new AbortController();
  window_.querySelector("h2").textContent = title;
  if (!window_.open) window_.showModal();
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
  const input = element("input", { id: "typed-code", autocomplete: "off", autocapitalize: "off", maxlength: "64" });
  const send = (event) => {
    event.preventDefault();
    if (input.value.trim()) answer(input.value.trim());
  };
  const line = element("div", { class: "field" }, element("label", { for: "typed-code" }, label), input);
  return element("form", { class: "scan", onsubmit: send }, line, element("button", { class: "button" }, say("Take this one")));
}

/** Tell something in the window. */
export function tell(title, ...children) {
  const asked = opened(title);
  fill(...children);
  return asked;
}
