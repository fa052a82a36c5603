// Whether somebody has changed a form since it was drawn.

const before = new WeakMap();

function said(form) {
  const fields = [...form.elements].filter((field) => field.name && field.type !== "hidden");
  return JSON.stringify(fields.map((field) => (["radio", "checkbox"].includes(field.type) ? field.checked : field.value)));
}

/** Take what the form holds now as unchanged. */
export function markUnchanged(form) {
  before.set(form, said(form));
}

/** Whether the form holds something else than when it was last marked unchanged. */
export function isChanged(form) {
  return before.has(form) && before.get(form) !== said(form);
}
