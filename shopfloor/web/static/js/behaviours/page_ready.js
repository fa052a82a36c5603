// The page's script runs as early as it can, often before the page is fully parsed.

/** Call `start` once the whole page is parsed. */
export function whenReady(start) {
  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", start, { once: true });
  else start();
}
