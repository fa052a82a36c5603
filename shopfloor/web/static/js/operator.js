// The operator's pages work without scripts; each of these only makes one thing quicker.
import { startDeviceTime } from "./behaviours/device_time.js";
import { startFillButtons } from "./behaviours/fill_buttons.js";
import { startKeypad } from "./behaviours/keypad.js";
import { startSteppers } from "./behaviours/stepper.js";
import { startClearFields } from "./behaviours/clear_field.js";
import { startOperator } from "./station/start.js";
import { whenReady } from "./behaviours/page_ready.js";
import { startPinPads } from "./behaviours/pin_pad.js";
import { startPrinting } from "./behaviours/print.js";

const STARTS = [startKeypad, startFillButtons, startSteppers, startClearFields, startDeviceTime, startPrinting, startPinPads, startOperator];
whenReady(() => {
  for (const start of STARTS) start(document);
});
