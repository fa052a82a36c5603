// Moves the focus to the error summary, so that it is seen, and read out, first.

export function focusErrors(root) {
  root.querySelector("[data-focus]")?.focus();
}
