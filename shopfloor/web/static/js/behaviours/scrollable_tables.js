// A table that is wider than its frame can be scrolled by keyboard too; one that fits is no tab stop.

const PLACES = ".table-wrap, .chart-wrap";

export function startScrollableTables(root) {
  const watcher = new ResizeObserver((changes) => changes.forEach(({ target }) => renew(target)));
  for (const place of root.querySelectorAll(PLACES)) if (!place.hasAttribute("tabindex")) watcher.observe(place);
}

function renew(place) {
  const isScrolling = place.scrollWidth > place.clientWidth;
  const name = place.querySelector("caption")?.textContent.trim();
  const attributes = { tabindex: "0", role: "group", ...(name && { "aria-label": name }) };
  for (const [key, value] of Object.entries(attributes)) isScrolling ? place.setAttribute(key, value) : place.removeAttribute(key);
}
