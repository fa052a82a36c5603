// What every page does for its forms.
import { focusFirst } from "./focus.js";
import { startLook } from "./look.js";
import { startIdle } from "./idle.js";
import { startOnce } from "./once.js";
import { whenParsed } from "./parsed.js";
import { startScrolling } from "./scrolling.js";
import { startSuggesting } from "./suggest.js";

const STARTS = [startOnce, startIdle, startSuggesting, startScrolling, focusFirst];
whenParsed(() => {
  for (const start of STARTS) start(document);
  // A browser has to ask another process for its cookies: nobody needs to wait for that.
  setTimeout(startLook, 0, document);
});
