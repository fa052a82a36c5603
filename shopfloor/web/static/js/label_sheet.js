// The sheet of labels has only its print button.
import { startPrinting } from "./behaviours/print.js";

startPrinting(document);
