// Holes that the tap in the station made since the server's figure, from the entries on this tablet.
import { element } from "../elements.js";
import { drawnAt } from "../messages.js";
import { entriesSince, holesOf } from "../outbox/entries_since.js";
import { SAVED } from "../outbox/rules.js";
import { say } from "../words.js";

/** Show how many holes the tap made since its figure was drawn up: for the page, or for the list it was chosen from. */
export function showHolesSince(form, entries) {
  const place = document.querySelector(".tap-holes");
  if (!place) return;
  const mine = entriesSince(entries, Number(place.dataset.at ?? drawnAt())).filter(({ sent }) => sent.tap === form.elements.tap.value);
  const holes = holesOf(mine);
  const told = mine.some(({ state }) => state === SAVED) ? say("{holes} since", { holes }) : say("{holes} on this tablet", { holes });
  place.querySelector(".waiting-holes")?.remove();
  if (holes) place.append(element("span", { class: "waiting-holes" }, ` + ${told}`));
}
