// Plus and minus beside a count.

export function startSteppers(root) {
  for (const button of root.querySelectorAll("[data-step]")) {
    const field = root.getElementById(button.dataset.for);
    button.hidden = false;
    button.addEventListener("click", () => {
      const now = /^\d+$/.test(field.value) ? Number(field.value) : 0;
      field.value = String(Math.max(0, now + Number(button.dataset.step)));
    });
  }
}
