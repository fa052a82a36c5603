// A button that prints the page; it shows only where a script can.

export function startPrinting(root) {
  for (const button of root.querySelectorAll("[data-print]")) {
    button.hidden = false;
    button.addEventListener("click", () => window.print());
  }
}
