// A table that is wider than its place can be scrolled by the keyboard too; one that fits is no stop on the way.

const PLACES = ".table-wrap, .chart-wrap";

export function startScrolling(root) {
  const watcher = new ResizeObserver((changes) => changes.forEach(({ target }) => renew(target)));
  for (const place of root.querySelectorAll(PLACES)) if (!place.hasAttribute("tabindex")) watcher.observe(place);
}

function renew(place) {
  const isScrolling = place.scrollWidth > place.clientWidth;
  const name = place.querySelector("caption")?.textContent.trim();
  const attributes = { tabindex: "0", role: "group", ...(name && { "aria-label": name }) };
  for (const [key, value] of Object.entries(attributes)) isScrolling ? place.setAttribute(key, value) : place.removeAttribute(key);
}
