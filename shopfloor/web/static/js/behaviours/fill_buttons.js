// Buttons that put their number into a field; without scripts each is a link to the page with the number filled in.

export function startFillButtons(root) {
  for (const button of root.querySelectorAll("[data-fill]")) {
    const fill = (event) => {
      event.preventDefault();
      const field = root.getElementById(button.dataset.fill);
      field.value = button.dataset.value;
      field.dispatchEvent(new Event("filled", { bubbles: true }));
    };
    button.addEventListener("click", fill);
    // A link with the role of a button must also react to the space bar.
    button.addEventListener("keydown", (event) => (event.key === " " ? fill(event) : undefined));
  }
}
