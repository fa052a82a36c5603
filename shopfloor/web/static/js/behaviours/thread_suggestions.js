// Suggests threads while one is typed: the server knows what '.250-20' or 'half inch' may become.
// Without scripts the list holds every standard thread, and the server names the nearest to a wrong one.

export function startThreadSuggestions(root) {
  for (const field of root.querySelectorAll("[data-suggests]")) {
    const list = root.getElementById(field.dataset.suggests);
    const all = [...list.children];
    let asked = new AbortController();
    field.addEventListener("input", async () => {
      asked.abort();
      asked = new AbortController();
      const text = field.value.trim();
      const found = text === "" ? [] : await suggestions(list.dataset.address, text, asked.signal);
      if (found === null) return;
      list.replaceChildren(...(text === "" ? all : found.map((thread) => offer(thread, text))));
    });
  }
}

// What the text may become; null if a later keystroke has overtaken it or the network is down.
async function suggestions(address, text, signal) {
  try {
    const answer = await fetch(`${address}?${new URLSearchParams({ text })}`, { signal });
    return answer.ok ? (await answer.json()).threads : null;
  } catch {
    return null;
  }
}

// A browser shows an option only if its value or its label holds what was typed.
function offer(thread, text) {
  return new Option(text, thread);
}
