// Whether a person has put something into a form since it was drawn.

const before = new WeakMap();

function said(form) {
  const fields = [...form.elements].filter((field) => field.name && field.type !== "hidden");
  return JSON.stringify(fields.map((field) => (["radio", "checkbox"].includes(field.type) ? field.checked : field.value)));
}

/** What the form says now is where a person begins. */
export function isFresh(form) {
  before.set(form, said(form));
}

export function isTouched(form) {
  return before.has(form) && before.get(form) !== said(form);
}
