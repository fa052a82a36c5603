// What is wrong with a text that is no label, in the server's words.
import { quoted, say } from "../words.js";

const FAULTS = {
  nothing: () => say("Nothing was read. Scan the label again, or type what is printed below its square."),
  "no label": (text) =>
    say("{text} is not a complete label. A label reads like T-T0001-37: T for a tap, J for a job or S for a station, the code, two check digits.", { text }),
  check: (text) =>
    say("{text} was read, but its check digits do not match: one character is wrong, or two are swapped. Scan it again, or type what is printed below its square.", { text }),
};

/** The sentence for a text that could not be read. */
export function faultOf(fault, text) {
  return FAULTS[fault](quoted(text));
}
