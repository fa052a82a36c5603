// The keypad types into the number field that was touched last, as long as it is in sight; else into the holes.

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
  const aimAnew = () => (isInSight(target) ? undefined : aim(first));
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
    // The keypad on the page is larger than the system's, which would cover it.
    field.inputMode = "none";
    field.addEventListener("focus", () => aim(field));
    field.addEventListener("filled", () => aim(field));
  }
  pad.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]");
    if (key) press(key.dataset.key);
  });
  // A pad of keys at the tablet types as the one on the page, unless what has the focus takes keys itself. What a scanner
  // types never comes here: the wedge takes it on its way down.
  root.addEventListener("keydown", (event) => {
    const key = keyOf(event);
    if (!key || pad.closest("[hidden]") || root.activeElement?.matches(TAKES_KEYS) || root.querySelector("dialog[open]")) return;
    event.preventDefault();
    press(key);
  });
  // Once the holes are told, what a broken tap lacks is the hole of its break.
  root.addEventListener("change", (event) => {
    const story = root.getElementById("broke_at_hole");
    if (story && event.target.matches('[name="tap_end"]')) aim(event.target.value === "broken" && first.value ? story : first);
  });
  root.addEventListener("renewed", () => aim(first));
  // Whatever puts a field out of sight, the look of the others says where the next digit goes.
  root.addEventListener("toggle", aimAnew, true);
  const sight = new ResizeObserver(aimAnew);
  for (const field of fields) sight.observe(field);
  aim(first);
}

function isInSight(field) {
  return field.isConnected && !field.disabled && (field.checkVisibility?.() ?? field.getClientRects().length > 0);
}

function keyOf({ key, ctrlKey, altKey, metaKey, isComposing }) {
  if (ctrlKey || altKey || metaKey || isComposing) return null;
  return key === "Backspace" ? "back" : /^\d$/.test(key) ? key : null;
}
