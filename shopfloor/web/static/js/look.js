// A page that this tablet kept may have been drawn before light or dark was chosen on it.

const NIGHT = { tablet: "screen and (prefers-color-scheme: dark)", light: "not all", dark: "screen" };

/** Draw the page as it was chosen last. */
export function startLook(root) {
  const chosen = /(?:^|; )look=(light|dark)/.exec(root.cookie)?.[1] ?? "tablet";
  if (root.documentElement.dataset.look === chosen) return;
  root.documentElement.dataset.look = chosen;
  root.getElementById("night").media = NIGHT[chosen];
}
