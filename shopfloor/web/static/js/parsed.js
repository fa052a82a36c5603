// The page's script comes as early as it can, often before the page is read to its end.

/** Call `start` once the whole page is there. */
export function whenParsed(start) {
  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", start, { once: true });
  else start();
}
