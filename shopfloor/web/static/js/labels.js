// The sheet of labels only wants its button.
import { startPrinting } from "./print.js";

startPrinting(document);
