// What every page does for its forms.
import { focusFirst } from "./focus.js";
import { startLook } from "./look.js";
import { startIdle } from "./idle.js";
import { startOnce } from "./once.js";
import { startSuggesting } from "./suggest.js";

startLook(document);
startOnce(document);
startIdle(document);
startSuggesting(document);
focusFirst(document);
