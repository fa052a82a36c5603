// The operator's pages work without a script; each of these only makes one thing quicker.
import { startClock } from "./clock.js";
import { startFills } from "./fill.js";
import { startKeypad } from "./keypad.js";
import { startSteppers } from "./stepper.js";
import { startEmptying } from "./empty.js";
import { startPrinting } from "./print.js";

for (const start of [startKeypad, startFills, startSteppers, startEmptying, startClock, startPrinting]) {
  start(document);
}
