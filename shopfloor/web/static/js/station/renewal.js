// Renews the figures and words of a page whose form is half filled, from the page as the server draws it now.
import { showHolesSince } from "./holes_since.js";
import { renewPortion } from "./portion.js";
import { entries } from "../outbox/database.js";
import { readPage } from "../outbox/sender.js";

const SAME = ["person", "job", "tap"];
const WORDS = [".tap-holes", ".life-bar", ".life-bar-key", ".tap-words"];

/** Renew them; resolves with whether the server's page is of the same person, job and tap. */
export async function renewInPlace(form) {
  const page = await readPage(location.pathname);
  const other = page?.querySelector("form.log");
  if (!other || SAME.some((name) => other.elements[name]?.value !== form.elements[name].value)) return false;
  for (const name of ["soFar", "usual", "nextHoles"]) form.dataset[name] = other.dataset[name];
  document.getElementById("tray").dataset.drawn = page.getElementById("tray").dataset.drawn;
  putWords(page);
  for (const words of document.querySelectorAll(".while-away")) words.remove();
  await renewPortion(form);
  showHolesSince(form, await entries());
  return true;
}

function putWords(page) {
  const facts = document.querySelector(".tap-facts");
  facts.querySelector(".kept-bar")?.remove();
  for (const name of WORDS) {
    const [old, now] = [document, page].map((each) => each.querySelector(`#tap-here ${name}`));
    if (old && now) old.replaceWith(now);
    else if (now) facts.append(now);
    else old?.remove();
  }
}
