// Buttons that print the page; hidden without scripts.

export function startPrinting(root) {
  for (const button of root.querySelectorAll("[data-print]")) {
    button.hidden = false;
    button.addEventListener("click", () => window.print());
  }
}
