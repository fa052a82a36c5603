// What every page does for its forms.
import { focusErrors } from "./behaviours/error_focus.js";
import { startLook } from "./behaviours/look.js";
import { startIdleLock } from "./behaviours/idle_lock.js";
import { startDebounce } from "./behaviours/debounce.js";
import { whenReady } from "./behaviours/page_ready.js";
import { startScrollableTables } from "./behaviours/scrollable_tables.js";
import { startThreadSuggestions } from "./behaviours/thread_suggestions.js";

const STARTS = [startDebounce, startIdleLock, startThreadSuggestions, startScrollableTables, focusErrors];
whenReady(() => {
  for (const start of STARTS) start(document);
  // Reading cookies may take a round trip to another process: nothing needs to wait for it.
  setTimeout(startLook, 0, document);
});
