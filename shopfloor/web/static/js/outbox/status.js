// The button in the header that says how many of this tablet's entries still wait.
import { entries, onChange } from "./database.js";
import { REFUSED, SAVED, WAITING, photographsOf } from "./rules.js";
import { network, onNetwork } from "./sender.js";
import { say, sayCount } from "../words.js";

/** What the button says, and its tone. */
export function standing(kept, answers) {
  const count = (state) => kept.filter((entry) => entry.state === state).length;
  const photographs = kept.flatMap((entry) => (entry.state === SAVED ? photographsOf(entry) : []));
  const countPhotographs = (state) => photographs.filter((one) => one.state === state).length;
  const [waiting, refused] = [count(WAITING), count(REFUSED) + countPhotographs(REFUSED)];
  const pictures = countPhotographs(WAITING);
  const words = [];
  if (refused) words.push(sayCount(refused, "{n} needs attention", "{n} need attention"));
  if (waiting) words.push(say("{holes} on this tablet", { holes: waiting }));
  if (pictures) words.push(sayCount(pictures, "{n} photograph on this tablet", "{n} photographs on this tablet"));
  if (kept.some((entry) => entry.state === WAITING && entry.needs_pin)) words.push(say("PIN needed"));
  if (answers === false) words.push(say("offline"));
  const tone = refused ? "bad" : words.length ? "warn" : "good";
  return { words: words.length ? words.join(", ") : say("All saved"), tone };
}

export function startStatus(button, open) {
  const show = async () => {
    let said;
    try {
      said = standing(await entries(), network.answers);
    } catch {
      said = { words: say("This tablet cannot keep entries"), tone: "bad" };
    }
    button.textContent = said.words[0].toUpperCase() + said.words.slice(1);
    button.className = `button kept-status state state-${said.tone}`;
    button.hidden = false;
  };
  button.addEventListener("click", open);
  onChange(show);
  onNetwork(show);
  show();
}
