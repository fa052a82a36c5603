// Limits that the server states once, in Python (web/operator/script_limits.py), and hands over with each page.

let found = null;

/** The limits by their names; read from the page when first requested. */
export function limits() {
  found ??= JSON.parse(document.documentElement.dataset.limits);
  return found;
}
