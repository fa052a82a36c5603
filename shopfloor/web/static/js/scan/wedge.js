// Keyboard-wedge scanners: what follows the prefix is a scan, wherever the focus is, and no text for the field in focus.

// A slow scanner takes a tenth of a second a key; somebody who typed the prefix by chance gets it back after this time.
const SILENCE_MS = 2000;

/** Call `onScan(text)` for what is typed between the prefix and Enter, in a field or outside. */
export function startWedge(root, prefix, onScan) {
  let taken = null;
  let waiting = 0;

  const end = () => {
    clearTimeout(waiting);
    const text = taken;
    taken = null;
    return text;
  };
  const giveBack = () => insert(root.activeElement, prefix + end());
  const take = (event, signs) => {
    event.preventDefault();
    event.stopPropagation();
    taken = (taken ?? "") + signs;
    clearTimeout(waiting);
    waiting = setTimeout(giveBack, SILENCE_MS);
  };
  root.addEventListener(
    "keydown",
    (event) => {
      if (event.isComposing) return;
      if (event.key === prefix && !taken) take(event, "");
      else if (taken === null) return;
      else if (event.key === "Enter" || event.key === "Tab") {
        take(event, "");
        onScan(end());
      } else if (event.key.length === 1) take(event, event.key);
    },
    true,
  );
}

// It was no scan: insert the text where it was typed.
function insert(field, text) {
  if (!field?.matches?.("input, textarea") || field.selectionStart === null) return;
  field.setRangeText(text, field.selectionStart, field.selectionEnd, "end");
  field.dispatchEvent(new Event("input", { bubbles: true }));
}
