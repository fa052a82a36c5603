// A cached page may have been drawn before light or dark was chosen on this tablet.

/** Show the page as was chosen last. */
export function startLook(root) {
  const chosen = /(?:^|; )look=(light|dark)/.exec(root.cookie)?.[1] ?? "tablet";
  if (root.documentElement.dataset.look === chosen) return;
  root.documentElement.dataset.look = chosen;
  const night = root.getElementById("night");
  night.media = night.dataset[chosen];
}
