// What every page does for its forms.
import { focusFirst } from "./focus.js";
import { startOnce } from "./once.js";

startOnce(document);
focusFirst(document);
