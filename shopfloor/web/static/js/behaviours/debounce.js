// Drops a second submit of the same form within 400 ms: a bouncing finger, or a drop of oil on the screen.

/** Two touches of one button within this time count as one. */
export const BOUNCE_MS = 400;

export function startDebounce(root) {
  for (const form of root.querySelectorAll("form[data-once]")) {
    let sentAt = -Infinity;
    form.addEventListener("submit", (event) => {
      const now = performance.now();
      if (now - sentAt < BOUNCE_MS) event.preventDefault();
      else sentAt = now;
    });
  }
}
