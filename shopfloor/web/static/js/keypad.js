// The keypad types into the number field that was touched last; at first that is the holes.

const LONGEST = 7;
const SAY_AFTER_MS = 700;

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
  const say = () => {
    clearTimeout(saying);
    saying = setTimeout(() => (says.textContent = target.value), SAY_AFTER_MS);
  };
  const press = (key) => {
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
  // Once the holes are told, what a broken tap lacks is the hole of its break.
  root.addEventListener("change", (event) => {
    const story = root.getElementById("broke_at_hole");
    if (story && event.target.matches('[name="tap_end"]')) aim(event.target.value === "broken" && first.value ? story : first);
  });
  aim(first);
}
