// 'Not known' and a number exclude each other: choosing one clears the other.

export function startClearFields(root) {
  for (const box of root.querySelectorAll("[data-empties]")) {
    const field = root.getElementById(box.dataset.empties);
    box.addEventListener("change", () => {
      if (box.checked) field.value = "";
    });
    field.addEventListener("input", () => {
      if (field.value !== "") box.checked = false;
    });
  }
}
