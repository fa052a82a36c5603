// Makes elements; text is never parsed as markup.

/** An element with attributes and children; `onclick` may be a function. */
export function element(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (typeof value === "function") made.addEventListener(key.slice(2), value);
    else if (value !== null && value !== false) made.setAttribute(key, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== null));
  return made;
}

/** A button for a finger in a glove. */
export function button(label, onclick, looks = "button") {
  return element("button", { type: "button", class: looks, onclick }, label);
}
