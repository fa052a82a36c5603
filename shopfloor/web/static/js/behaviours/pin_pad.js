// A pad of large keys for a PIN. What is typed is shown as dots and never said aloud.
import { limits } from "../limits.js";

export function startPinPads(root) {
  for (const form of root.querySelectorAll("[data-pin-form]")) startPad(form);
}

function startPad(form) {
  const pad = form.querySelector("[data-pin-pad]");
  const input = form.querySelector("[data-pin]");
  pad.hidden = false;
  pad.addEventListener("click", (event) => {
    const digit = event.target.closest("[data-digit]")?.dataset.digit;
    if (!digit) return;
    if (digit === "clear") input.value = "";
    else if (digit === "back") input.value = input.value.slice(0, -1);
    else if (input.value.length < limits().longest_pin) input.value += digit;
    input.dispatchEvent(new Event("input", { bubbles: true }));
  });
}
