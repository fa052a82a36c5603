// What is wrong with a text that is no label, in the server's words.
import { quoted, say } from "../words.js";

const FAULTS = {
  nothing: () => say("Nothing was read. Scan the label again, or type what stands under its square."),
  "no label": (text) =>
    say("{text} is not the whole of a label. A label reads like T-T0001-37: T for a tap, J for a job or S for a station, the code, two check digits.", { text }),
  check: (text) =>
    say("{text} was read, and its check digits do not agree: one character is wrong, or two are swapped. Scan it again, or type what stands under its square.", { text }),
};

/** The sentence for a text that could not be read. */
export function faultOf(fault, text) {
  return FAULTS[fault](quoted(text));
}
