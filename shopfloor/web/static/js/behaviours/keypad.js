// The keypad on the page types into the number field that was touched last while it is in view, else into the holes.

const LONGEST = 7;
const SAY_AFTER_MS = 700;
const TAKES_KEYS = "input:not([type='radio'], [type='checkbox']), textarea, select, dialog *";

export function startKeypad(root) {
  const pad = root.querySelector("[data-keypad]");
  const first = root.querySelector("[data-keypad-first]");
  if (!pad || !first) return;
  const fields = [...root.querySelectorAll("[data-keypad-field]")];
  const says = root.querySelector("[data-keypad-says]");
  let target = first;
  let isFresh = true;
  let saying = 0;

  const aim = (field) => {
    target = field;
    isFresh = true;
    for (const each of fields) each.classList.toggle("is-typed-into", each === field);
  };
  const aimAnew = () => (isInView(target) ? undefined : aim(first));
  const say = () => {
    clearTimeout(saying);
    saying = setTimeout(() => (says.textContent = target.value), SAY_AFTER_MS);
  };
  const press = (key) => {
    aimAnew();
    if (key === "clear") target.value = "";
    else if (key === "back") target.value = target.value.slice(0, -1);
    else target.value = ((isFresh ? "" : target.value) + key).replace(/^0+(?=\d)/, "").slice(0, LONGEST);
    isFresh = false;
    target.dispatchEvent(new Event("input", { bubbles: true }));
    say();
  };

  pad.hidden = false;
  for (const field of fields) {
    // The system's keypad has smaller keys, and would cover the one on the page.
    field.inputMode = "none";
    field.addEventListener("focus", () => aim(field));
    field.addEventListener("filled", () => aim(field));
  }
  pad.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]");
    if (key) press(key.dataset.key);
  });
  // A hardware number pad types like the one on the page, unless the element in focus takes keys itself. What a scanner
  // types never gets here: scan/wedge.js takes it in the capture phase.
  root.addEventListener("keydown", (event) => {
    const key = keyOf(event);
    if (!key || pad.closest("[hidden]") || root.activeElement?.matches(TAKES_KEYS) || root.querySelector("dialog[open]")) return;
    event.preventDefault();
    press(key);
  });
  // Once the holes are typed, what is missing of a broken tap is the hole at which it broke.
  root.addEventListener("change", (event) => {
    const brokeAt = root.getElementById("broke_at_hole");
    if (brokeAt && event.target.matches('[name="tap_end"]')) aim(event.target.value === "broken" && first.value ? brokeAt : first);
  });
  root.addEventListener("renewed", () => aim(first));
  // Whatever hides a field, the others show where the next digit goes.
  root.addEventListener("toggle", aimAnew, true);
  const resizes = new ResizeObserver(aimAnew);
  for (const field of fields) resizes.observe(field);
  aim(first);
}

function isInView(field) {
  return field.isConnected && !field.disabled && (field.checkVisibility?.() ?? field.getClientRects().length > 0);
}

function keyOf({ key, ctrlKey, altKey, metaKey, isComposing }) {
  if (ctrlKey || altKey || metaKey || isComposing) return null;
  return key === "Backspace" ? "back" : /^\d$/.test(key) ? key : null;
}
