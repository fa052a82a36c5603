// A button that puts its number into a field; without a script it is a link that draws the page with the number in it.

export function startFills(root) {
  for (const button of root.querySelectorAll("[data-fill]")) {
    const fill = (event) => {
      event.preventDefault();
      const field = root.getElementById(button.dataset.fill);
      field.value = button.dataset.value;
      field.dispatchEvent(new Event("filled", { bubbles: true }));
    };
    button.addEventListener("click", fill);
    // What is called a button must also obey the space bar.
    button.addEventListener("keydown", (event) => (event.key === " " ? fill(event) : undefined));
  }
}
