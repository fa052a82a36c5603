// What a label says, and which codes are one: rules that the server has too (core/labels.py, core/codes.py).
// tests/labels_read.py and tests/codes_alike.py hold both to the same cases.
import { limits } from "../limits.js";
import { say } from "../words.js";

const SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
export const KINDS = { T: say("tap"), J: say("job"), S: say("station") };

/** A code as labels hold it: capital letters and digits, nothing else. */
export function plain(code) {
  return code.normalize("NFKD").toUpperCase().replace(/[^0-9A-Z]/g, "");
}

// What is drawn as nothing: controls and formats, fillers, variation selectors, the empty Braille cell.
const UNSEEN = /(?!\s)[\p{C}\p{Zl}\p{Zp}\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f\uffa0\u{e0100}-\u{e01ef}]/gu;

/** What two codes have in common that people take for the same one (`code_key` in core/codes.py). */
export function codeKey(code) {
  const folded = (text) => text.normalize("NFKC").toUpperCase().toLowerCase();
  return folded(folded(code.replace(UNSEEN, ""))).trim().replace(/\s+/g, " ");
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
