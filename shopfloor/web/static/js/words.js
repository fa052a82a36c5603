// Texts in the page's language. English is in the source; for any other language the server writes the translations
// into the page.
import { limits } from "./limits.js";

const { lang: LANGUAGE, dataset } = document.documentElement;
const WORDS = JSON.parse(document.getElementById("words")?.textContent ?? "{}");
const GROUPS = /\B(?=(\d{3})+$)/g;

/** The text, with its {names} replaced by values. */
export function say(text, values = {}) {
  return filled(WORDS[text] ?? text, values);
}

/** A text with a count: `one` for exactly one, `many` for all else; {n} is the number. */
export function sayCount(number, one, many, values = {}) {
  const [single, several] = WORDS[one] ?? [one, many];
  return filled(number === 1 ? single : several, { n: number, ...values });
}

/** A text as a message repeats it: in quotation marks, and cut short. */
export function quoted(text) {
  const longest = limits().shown_length;
  return `'${text.length > longest ? `${text.slice(0, longest)}...` : text}'`;
}

/** A whole number as the page writes it. */
export function written(number) {
  const digits = String(number);
  if (dataset.locale.includes("-")) return number.toLocaleString(dataset.locale);
  if (LANGUAGE !== "es") return digits.replace(GROUPS, ",");
  return digits.length < 5 ? digits : digits.replace(GROUPS, "\u202f");
}

/** A time of day in the shop's zone and notation, with the day if it is not today. */
export function clockTime(ms) {
  const isPlaced = dataset.locale.includes("-");
  const told = (options) => new Intl.DateTimeFormat(isPlaced ? dataset.locale : "sv-SE", { timeZone: dataset.zone, ...options }).format(ms);
  const day = (at) => new Intl.DateTimeFormat("sv-SE", { timeZone: dataset.zone, dateStyle: "short" }).format(at);
  return told({ timeStyle: "short", ...(day(ms) === day(Date.now()) ? {} : { dateStyle: isPlaced ? "medium" : "short" }) });
}

function filled(text, values) {
  return text.replace(/\{(\w+)\}/g, (_, name) => (typeof values[name] === "number" ? written(values[name]) : String(values[name])));
}
