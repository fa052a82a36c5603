"""What the log says about a tap, as an operator reads it: odds, suggestion, their evidence, and a bar."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from shopfloor.core.decision.replacement_age import FEWEST_FAILURES
from shopfloor.core.floor.slip_cusum import SlipWatch
from shopfloor.core.phrases import counted, joined, phrase, rounded
from shopfloor.core.survival.estimates import Estimate
from shopfloor.core.units import Units
from shopfloor.core.vocabulary import TapEnd
from shopfloor.services.advice.life_book import NOT_YET
from shopfloor.services.advice.outlook import Outlook
from shopfloor.services.record.revisions import Standing
from shopfloor.services.runs.batch_size import Portion, Why
from shopfloor.services.station.choices import JobChoice
from shopfloor.services.station.fresh_taps import FreshTap
from shopfloor.services.station.log_entries import LogEntry, SavedNotice
from shopfloor.services.station.page import AtStation, TapHere
from shopfloor.services.station.slip_watch import LOOK_FIRST
from shopfloor.web.i18n.decision_words import TONE, best_changed, what_to_do
from shopfloor.web.i18n.formats import chance, leaning_on, local_time, number, thread_length
from shopfloor.web.i18n.language import say
from shopfloor.web.i18n.measures import shops_units
from shopfloor.web.i18n.odds import odds, odds_interval

_WHY = {
    Why.LAST_TIME: phrase("as last time"),
    Why.LEFT_ON_JOB: phrase("left on this job"),
    Why.REST_OF_BATCH: phrase("left of batch"),
}
_STANDING = {
    Standing.SAVED: phrase("Saved"),
    Standing.CORRECTED: phrase("Corrected"),
    Standing.CANCELLED: phrase("Cancelled"),
}


@dataclass(frozen=True)
class Suggestion:
    """What to do, its tone ('good', 'warn', 'none'), and why."""

    text: str
    tone: str
    reason: str | None


def about(risk: Estimate | None) -> str:
    """The chance in the fewest words: 'About 1 in 12'."""
    told = odds(risk)
    return say(phrase("About {odds}", odds=told)) if told[0].isdigit() else told.capitalize()


def odds_told(outlook: Outlook) -> str:
    """What the odds are about, and what is usual when taps are used as suggested."""
    told = phrase("to break in the next {holes} holes", holes=outlook.next_holes)
    if outlook.usual_risk is None:
        return say(told)
    return say(phrase("{told}; usual for this job is {chance}", told=told, chance=chance(outlook.usual_risk)))


def odds_rest_on(outlook: Outlook) -> str:
    """The interval and the evidence behind the odds."""
    risk = outlook.risk
    known = {"taps": counted(outlook.evidence.taps, "tap"), "breaks": counted(outlook.breaks, "break")}
    if not outlook.is_ready:
        return say(NOT_YET)
    if risk is None:
        too_little = phrase(
            "The log has {taps} and {breaks} in this use: too little to tell; {enough} failures would be enough",
            **known,
            enough=FEWEST_FAILURES,
        )
        return say(too_little if outlook.evidence.taps else phrase("No such tap in the log yet"))
    interval = {"level": round(100 * risk.level), "odds": odds_interval(risk)}
    if not outlook.evidence.taps:
        told = phrase("{level}\u00a0% interval {odds}; based on like taps, as none was used this way yet", **interval)
        return say(told)
    leaning = leaning_on(outlook.shrinkage)
    return say(
        phrase(
            "{level}\u00a0% interval {odds}; based on {taps} and {breaks} in this use, {leaning}",
            **interval,
            **known,
            leaning=leaning,
        )
    )


def suggestion_for(tap: TapHere) -> Suggestion:
    """Change it, when, or why not."""
    outlook = tap.outlook
    why, best = _full_stop(outlook.reason), best_changed(outlook)
    if not best:
        return Suggestion(why, "none", None)
    told, tone = what_to_do(outlook.decision, _which(tap.fresh)), TONE[outlook.decision.action]
    return Suggestion(told, tone, f"{best} {why}") if told else Suggestion(best, tone, why)


def tap_made(tap: TapHere) -> str:
    """Length of thread on the tap, if the shop counts that; and the depth assumed for a job without one."""
    length = tap.outlook.length
    if length is None:
        return ""
    told = []
    if length.made_m is not None:
        told.append(phrase("{length} of thread", length=thread_length(length.made_m)))
    if length.is_usual:
        depth = rounded(length.depth_mm)
        told.append(phrase("no depth on record for this job: the usual {depth}\u00a0mm a hole assumed", depth=depth))
    return say(joined(told, "; "))


def _which(fresh: Sequence[FreshTap]) -> str:
    """The fresh tap to take: ' (T0412, here)', ' (T0417, in the crib, bin A3)'; empty if none is known."""
    if not fresh:
        return ""
    first = fresh[0]
    in_crib = phrase("in the crib, bin {bin}", bin=first.bin) if first.bin else phrase("in the crib")
    return phrase(" ({tap}, {place})", tap=first.code, place=phrase("here") if first.is_here else in_crib)


def slips_told(watch: SlipWatch) -> str:
    """That cutting slips are rising, and what to check, in order."""
    return say(
        phrase(
            "{slips} in the last {holes} holes, about {usual} is usual. Look first: {order}.",
            slips=counted(watch.slips, "slip"),
            holes=watch.holes,
            usual=max(1, round(watch.usual)),
            order=joined(LOOK_FIRST),
        )
    )


def so_far(page: AtStation) -> str:
    """What an offline tablet needs to keep offering portions, as JSON."""
    habit = page.habit
    batch = str(habit.last_batch_id) if habit.last_batch_id else None
    job = page.job.code if page.job else None
    return json.dumps({"job": job, "last_batch": habit.last_batch, "batch": batch, "left_on_job": habit.usual.left})


def portion_why(portion: Portion) -> str:
    """Where the offered number comes from."""
    return say(_WHY[portion.why])


def hole_of(job: JobChoice) -> str:
    """The job's hole: 'blind, 12 mm'."""
    kind = {True: phrase("blind"), False: phrase("through"), None: ""}[job.is_blind]
    depth = (
        "" if job.depth_mm is None else phrase("{depth} deep", depth=_depth(job.depth_mm, job.units or shops_units()))
    )
    return say(joined(part for part in (kind, depth) if part))


def _depth(mm: float, units: Units) -> str:
    text = rounded(mm) if units is Units.METRIC else f"{units.of_mm(mm):.3f}"
    return f"{number(text)} {units.length}"


def saved_words(notice: SavedNotice) -> str:
    """The notice after saving."""
    entry = notice.entry
    return say(
        phrase(
            "Saved: {holes} on {tap} ({so_far} so far), {end}.",
            holes=counted(entry.holes, "hole"),
            tap=entry.tap,
            so_far=notice.holes_on_tap,
            end=end_words(entry),
        )
    )


def undone_words(entry: LogEntry) -> str:
    """The notice after undoing."""
    return say(phrase("Undone: {holes} on {tap} removed.", holes=counted(entry.holes, "hole"), tap=entry.tap))


def end_words(entry: LogEntry) -> str:
    """The tap's state after the run, with the hole of the break."""
    if entry.tap_end is not TapEnd.BROKEN:
        return say(entry.tap_end.label).lower()
    at = entry.broke_at_hole
    return say(phrase("broken") if at is None else phrase("broken at hole {hole}", hole=at))


def standing_words(standing: Standing) -> str:
    """Whether an entry counts."""
    return say(_STANDING[standing])


def ended(entry: LogEntry) -> str:
    """That an entry no longer counts, since when, and by whom."""
    change = entry.change
    if change is None:
        return standing_words(entry.standing)
    how = say(_STANDING[entry.standing]).lower()
    when = local_time(change.at)
    if change.by is None:
        return say(phrase("This entry was {how} on {when}", how=how, when=when))
    return say(phrase("This entry was {how} on {when} by {name}", how=how, when=when, name=change.by))


def _full_stop(text: str) -> str:
    return f"{say(text).rstrip('.')}." if text else ""
