// A second tap on the same button within 400 ms is a bounce of the finger, or a drop of oil.

const BOUNCE_MS = 400;

export function startOnce(root) {
  for (const form of root.querySelectorAll("form[data-once]")) {
    let sentAt = -Infinity;
    form.addEventListener("submit", (event) => {
      const now = performance.now();
      if (now - sentAt < BOUNCE_MS) event.preventDefault();
      else sentAt = now;
    });
  }
}
