// What every page does for its forms.
import { focusFirst } from "./focus.js";
import { startIdle } from "./idle.js";
import { startOnce } from "./once.js";
import { startSuggesting } from "./suggest.js";

startOnce(document);
startIdle(document);
startSuggesting(document);
focusFirst(document);
