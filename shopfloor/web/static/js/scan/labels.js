// What a label says: pure rules, the same as the server's (core/labels.py).
import { limits } from "../limits.js";
import { say } from "../words.js";

const SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
export const KINDS = { T: say("tap"), J: say("job"), S: say("station") };

/** A code as labels hold it: capital letters and digits, nothing else. */
export function plain(code) {
  return code.normalize("NFKD").toUpperCase().replace(/[^0-9A-Z]/g, "");
}

/** The two digits after a text (ISO/IEC 7064 MOD 97-10, each character as two digits). */
export function checkDigits(text) {
  const remainder = [...text].reduce((rest, sign) => (100 * rest + SIGNS.indexOf(sign)) % 97, 0);
  return String(98 - ((100 * remainder) % 97)).padStart(2, "0");
}

/** What a scanner reads of a thing: {kind, code} as 'TT000137'. */
export function scanned({ kind, code }) {
  const text = kind + plain(code);
  return text + checkDigits(text);
}

/** What was scanned or typed: {kind, plain}, or {fault}: 'nothing', 'no label' or 'check'. */
export function readLabel(text, { longest_scanned: scan, longest_code: longest } = limits()) {
  const signs = plain(text.slice(0, scan));
  if (!signs) return { fault: "nothing" };
  const parts = /^([TJS])([0-9A-Z]+)([0-9]{2})$/.exec(signs);
  if (!parts || parts[2].length > longest) return { fault: "no label" };
  const [, kind, code, check] = parts;
  return check === checkDigits(kind + code) ? { kind, plain: code } : { fault: "check" };
}

/** Things ({kind, code}) whose label differs from the text in one character or by two that are swapped. */
export function oneSlipAway(text, things, { longest_scanned: scan } = limits()) {
  const signs = plain(text.slice(0, scan));
  return things.filter((thing) => isOneSlip(signs, scanned(thing)));
}

function isOneSlip(one, other) {
  if (one.length !== other.length) return false;
  const at = [...one].map((sign, place) => (sign === other[place] ? null : place)).filter((place) => place !== null);
  const [first, second] = at;
  return at.length === 1 || (at.length === 2 && one[first] === other[second] && one[second] === other[first]);
}
