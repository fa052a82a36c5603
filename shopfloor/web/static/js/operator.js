// The operator's pages work without a script; each of these only makes one thing quicker.
import { startClock } from "./clock.js";
import { startFills } from "./fill.js";
import { startKeypad } from "./keypad.js";
import { startSteppers } from "./stepper.js";
import { startEmptying } from "./empty.js";
import { startOutbox } from "./outbox/start.js";
import { whenParsed } from "./parsed.js";
import { startPinPads } from "./pin_pad.js";
import { startPrinting } from "./print.js";

const STARTS = [startKeypad, startFills, startSteppers, startEmptying, startClock, startPrinting, startPinPads, startOutbox];
whenParsed(() => {
  for (const start of STARTS) start(document);
});
