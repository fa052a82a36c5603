"""What the log says of a tap, as an operator reads it: odds, the suggestion, what both rest on, and a bar."""

from __future__ import annotations

from dataclasses import dataclass

from shopfloor.core.intervals import Estimate
from shopfloor.core.slips import SlipWatch
from shopfloor.core.vocabulary import TapEnd
from shopfloor.services.batch_advice import BatchAdvice
from shopfloor.services.choices import JobChoice
from shopfloor.services.log_book import Entry, SavedNotice
from shopfloor.services.outlook import Outlook
from shopfloor.services.portions import Portion, Why
from shopfloor.services.slip_watch import LOOK_FIRST
from shopfloor.services.station import TapHere
from shopfloor.web.formats import chance, leaning_on, thread_length
from shopfloor.web.odds import odds, odds_interval

_WHY = {Why.LAST_TIME: "as last time", Why.LEFT_ON_JOB: "left on this job", Why.REST_OF_BATCH: "left of batch"}


@dataclass(frozen=True)
class Suggestion:
    """What to do, its tone ('good', 'warn', 'none'), and why."""

    text: str
    tone: str
    reason: str | None


def about(risk: Estimate | None) -> str:
    """The chance in the fewest words: 'About 1 in 12'."""
    told = odds(risk)
    return f"About {told}" if told[0].isdigit() else told.capitalize()


def odds_told(outlook: Outlook) -> str:
    """What the odds are of, and what is usual where a tap is used as suggested."""
    told = f"that it breaks in the next {outlook.next_holes:,} holes"
    return told if outlook.usual_risk is None else f"{told}; usual for this job is {chance(outlook.usual_risk)}"


def odds_rest_on(outlook: Outlook) -> str:
    """The interval and the evidence behind the odds."""
    risk = outlook.risk
    evidence = f"{_counted(outlook.taps, 'tap')}, {_counted(outlook.breaks, 'break')} used so"
    if risk is None:
        return f"The log holds {evidence}: too little to tell" if outlook.taps else "No such tap in the log yet"
    evidence = f"{evidence}, {leaning_on(outlook.leaning)}" if outlook.taps else "like taps, as none was used so yet"
    return f"{100 * risk.level:.0f}\u00a0% interval {odds_interval(risk)}; rests on {evidence}"


def suggestion_for(tap: TapHere) -> Suggestion:
    """Change it, when, or why not."""
    outlook, batch = tap.outlook, tap.batch
    if outlook.change_at is None:
        return Suggestion(_full_stop(outlook.reason or "No suggestion yet"), "none", None)
    reason = f"Best changed after {_age(outlook)}. {_full_stop(outlook.reason or '')}"
    if tap.holes is None or batch.deed is None:
        told = f"Taps like this are best changed after {_age(outlook)}."
        return Suggestion(told, "none", _full_stop(outlook.reason or ""))
    if batch.deed == "fresh now":
        return Suggestion(f"Fit a fresh tap now{_which(batch)}.", "warn", reason)
    if batch.deed == "change within":
        return Suggestion(f"Change after hole {batch.after_hole:,} of this batch{_which(batch)}.", "warn", reason)
    if batch.batches == 1:
        return Suggestion(f"Carry on, and change after this batch{_which(batch)}.", "warn", reason)
    return Suggestion(f"Carry on for about {batch.batches:,} such batches.", "good", reason)


def tap_made(tap: TapHere) -> str:
    """Length of thread on the tap, where the shop counts so; and what a hole counts for where nobody said how deep."""
    length = tap.outlook.length
    if length is None:
        return ""
    made = "" if length.made_m is None else f"{thread_length(length.made_m)} of thread"
    usual = f"no depth on record for this job: {length.depth_mm:g}\u00a0mm a hole, as usual" if length.is_usual else ""
    return "; ".join(part for part in (made, usual) if part)


def _age(outlook: Outlook) -> str:
    """The age at which to change, in the shop's measure."""
    holes = f"{outlook.change_at:,} holes"
    if outlook.length is None or outlook.length.change_at_m is None:
        return holes
    return f"{thread_length(outlook.length.change_at_m)} of thread ({holes} of this job)"


def _which(batch: BatchAdvice) -> str:
    """The fresh tap to take: ' (T0412, here)', ' (T0417, in the crib)'; nothing where none is known."""
    if not batch.fresh:
        return ""
    first = batch.fresh[0]
    return f" ({first.code}, {'here' if first.is_here else 'in the crib'})"


def slips_told(watch: SlipWatch) -> str:
    """That cutting slips rise, and what to look at, in this order."""
    seen = f"{_counted(watch.slips, 'slip')} in the last {watch.holes:,} holes"
    return f"{seen}, about {max(1, round(watch.usual)):,} is usual. Look first: {', '.join(LOOK_FIRST)}."


def portion_why(portion: Portion) -> str:
    """Where the offered number comes from."""
    return _WHY[portion.why]


def hole_of(job: JobChoice) -> str:
    """The job's hole: 'blind, 12 mm'."""
    kind = {True: "blind", False: "through", None: ""}[job.is_blind]
    depth = "" if job.depth_mm is None else f"{job.depth_mm:g} mm deep"
    return ", ".join(part for part in (kind, depth) if part)


def saved_words(notice: SavedNotice) -> str:
    """The notice after saving."""
    entry = notice.entry
    done = f"{_counted(entry.holes, 'hole')} on {entry.tap} ({notice.holes_on_tap:,} so far)"
    return f"Saved: {done}, {end_words(entry)}."


def undone_words(entry: Entry) -> str:
    """The notice after undoing."""
    return f"Undone: {_counted(entry.holes, 'hole')} on {entry.tap} taken back."


def end_words(entry: Entry) -> str:
    """The tap's state after the run, with the hole of the break."""
    if entry.tap_end is not TapEnd.BROKEN:
        return entry.tap_end.label.lower()
    return "broken" if entry.broke_at_hole is None else f"broken at hole {entry.broke_at_hole:,}"


def _counted(number: int, noun: str) -> str:
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"


def _full_stop(text: str) -> str:
    return f"{text.rstrip('.')}." if text else ""
