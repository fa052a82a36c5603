// Shows the risk of the tap offline: as the server last stated it, including the holes since.
import { entries, fact, onChange } from "../outbox/database.js";
import { clockTime, say, sayCount } from "../words.js";
import { element } from "../elements.js";
import { lifeBar } from "./life_bar.js";
import { holesOf, entriesSince } from "../outbox/entries_since.js";
import { ago, odds, suggestion } from "./risk.js";
import { network } from "../outbox/sender.js";

/** Keep the tap's risk up to date offline: after each entry, and while holes are typed. */
export function startKeptRisk(form) {
  const look = () => showKeptRisk(form).catch(() => undefined);
  onChange(look);
  form.elements.holes.addEventListener("input", look);
  form.elements.holes.addEventListener("filled", look);
  form.addEventListener("renewed", look);
}

/** Put the risk into words; the server's words stay while they still hold, with their age. */
export async function showKeptRisk(form) {
  const words = document.querySelector(".tap-words");
  if (network.answers !== false || !words) return;
  const { tap, job } = form.elements;
  const kept = await fact(`advice ${form.dataset.station}`);
  const advice = kept?.advice.find((each) => each.tap === tap.value && each.job === job.value);
  const next = nextOf(form);
  const since = advice ? await holesSince(kept, tap.value) : 0;
  // The server may have answered while the tablet was reading.
  if (network.answers) return;
  const isDrawn = words.dataset.tap === tap.value && words.dataset.job === job.value;
  const isSame = isDrawn && (!advice || (since === 0 && next === Number(form.dataset.nextHoles) && advice.made === Number(words.dataset.made)));
  words.querySelector(".kept-risk")?.remove();
  // The set-up mark is of the job and tap that the page was drawn for.
  words.querySelector(".set-up-mark")?.toggleAttribute("hidden", !isDrawn);
  for (const drawn of words.querySelectorAll(".slips-rise, .advice, .risk")) drawn.hidden = !isSame;
  const told = isSame ? (advice ? [element("p", { class: "evidence" }, age(kept, 0))] : []) : advice ? inWords(advice, since, next, kept) : [none()];
  if (!isDrawn) told.push(element("p", { class: "evidence while-away" }, say("Set-up warnings will be shown when the server answers again.")));
  words.querySelector(".cautions").before(element("div", { class: "kept-risk" }, ...told));
  showBar(isSame, advice, since, next);
}

// The bar must say what the words say: the server's does not include the holes since.
function showBar(isSame, advice, since, next) {
  const facts = document.querySelector(".tap-facts");
  facts.querySelector(".kept-bar")?.remove();
  for (const drawn of facts.querySelectorAll(".life-bar, .life-bar-key")) drawn.toggleAttribute("hidden", !isSame);
  if (advice && !isSame) facts.append(element("div", { class: "kept-bar" }, ...lifeBar(advice.made + since, next, advice.change_at)));
}

function inWords(advice, since, next, kept) {
  const { text, tone } = suggestion(advice, since, next);
  const risk = odds(advice, since, next);
  const said = age(kept, since);
  const line = risk
    ? [element("strong", { class: "odds" }, risk.odds), ` ${risk.of}. `, risk.isHigh ? element("strong", {}, say("Keep a fresh tap at hand.")) : "", " ", slipsRaise(advice), element("span", { class: "evidence" }, ` ${risk.interval}. ${said}`)]
    : [element("span", { class: "while-away" }, say("The risk for that many holes will be shown when the server answers again."), " "), element("span", { class: "evidence" }, said)];
  return [element("p", { class: "advice" }, element("strong", { class: `state state-${tone} wrap` }, text)), element("p", { class: "risk" }, ...line)];
}

// By how much its cutting slips raise the risk, in the server's words.
function slipsRaise({ slips: told }) {
  if (!told) return "";
  const { factor: times, slips, holes, usual } = told;
  return sayCount(slips, "Its cutting slips raise this about {times} times: {n} slip in its last {holes} holes, usual is {usual}.", "Its cutting slips raise this about {times} times: {n} slips in its last {holes} holes, usual is {usual}.", { times, holes, usual });
}

function age(kept, since) {
  const told = { time: clockTime(Date.parse(kept.at)), ago: ago(Date.now() - kept.kept_on) };
  if (!since) return say("As of {time}, {ago}.", told);
  return sayCount(since, "As of {time}, {ago}, and {n} hole since.", "As of {time}, {ago}, and {n} holes since.", told);
}

function none() {
  return element("p", { class: "risk while-away" }, say("Its risk will be shown when the server answers again."));
}

// Holes that the server did not know of when it worked out the risks.
async function holesSince(kept, tap) {
  return holesOf(entriesSince(await entries(), Date.parse(kept.at)).filter(({ sent }) => sent.tap === tap));
}

// The holes typed, else those offered, else those the page was drawn for.
function nextOf(form) {
  const { holes, offered } = form.elements;
  return [holes.value, offered.value, form.dataset.nextHoles].map(Number).find((number) => number > 0);
}
