// What every page does for its forms.
import { focusFirst } from "./focus.js";
import { startOnce } from "./once.js";
import { startSuggesting } from "./suggest.js";

startOnce(document);
startSuggesting(document);
focusFirst(document);
