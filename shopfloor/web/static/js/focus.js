// The error summary takes the focus, so that it is seen, and read out, first.

export function focusFirst(root) {
  root.querySelector("[data-focus]")?.focus();
}
