"""Findings in plain words, for a meeting."""

from __future__ import annotations

import math
from collections.abc import Iterable

from shopfloor.core.decision.replacement_age import FEWEST_FAILURES
from shopfloor.core.floor.hole_conditions import HoleConditions
from shopfloor.core.floor.suspect_runs import Since
from shopfloor.core.phrases import Phrase, joined, phrase, rounded
from shopfloor.core.phrases import counted as count_words
from shopfloor.core.survival.poisson_rate import Rate
from shopfloor.core.units import AgeUnit
from shopfloor.core.vocabulary import Mode
from shopfloor.services.advice.life_book import Advice
from shopfloor.services.quality.breakage import Breakage, BreakagePlace
from shopfloor.services.quality.careful_start import CarefulStart
from shopfloor.services.quality.failed_checks import FailedCheck
from shopfloor.services.quality.life_curves import Choice, LifeCurve
from shopfloor.settings import PREFIX
from shopfloor.web.i18n.formats import (
    NO_VALUE,
    hole_of_end,
    leaning_on,
    local_time,
    number,
    percent,
    saving,
    speed_band,
    thread_length,
    whole,
)
from shopfloor.web.i18n.language import language, say
from shopfloor.web.quality import ages

_LEAST_SHARE = 0.001

_COSTS = {
    "default_tap_cost": phrase("a tap without a price"),
    "change_cost": phrase("changing it"),
    "break_cost": phrase("a break"),
    "wear_cost": phrase("a worn tap"),
}

FAILED = {None: phrase("broken or worn out"), Mode.BREAK: phrase("broken"), Mode.WEAR: phrase("worn out")}
STILL_GOOD = {
    None: phrase("Taps still good"),
    Mode.BREAK: phrase("Taps not broken"),
    Mode.WEAR: phrase("Taps not worn out"),
}


def counted(count: int, one: str, many: str | None = None) -> str:
    """A count with its noun: '1 tap', '8 taps', 'no taps'."""
    words = say(count_words(count, one, many))
    return f"no{words[1:]}" if count == 0 and language() == "en" else words


def options(choices: Iterable[Choice]) -> list[tuple[str, str]]:
    """Entries of a list to choose from, each with how many failed of how many taps."""
    return [
        (c.value, say(phrase("{choice} ({failures} of {lives})", choice=c.label, failures=c.failures, lives=c.lives)))
        for c in choices
    ]


def same(codes: Iterable[str]) -> list[tuple[str, str]]:
    """Options whose label is their value."""
    return [(code, code) for code in codes]


def per_1000(value: float) -> str:
    """A rate with sensible decimals: '0.25', '9.2', '165'."""
    digits = 0 if value >= 9.95 or value == 0 else 1 if value >= 0.995 else 2
    return number(f"{value:,.{digits}f}")


def share(value: float | None) -> str:
    """A share in per cent, without the sign: '8.4', '23'."""
    if value is None:
        return NO_VALUE
    if 0 < value < _LEAST_SHARE:
        return number(f"<{100 * _LEAST_SHARE:g}")
    return number(f"{100 * value:.0f}" if value >= 0.0995 or value == 0 else f"{100 * value:.1f}")


def share_band(ends: tuple[float, float]) -> str:
    """A share's interval, in per cent without the sign."""
    low, high = share(ends[0]), share(ends[1])
    return low if low == high else _to(low, high)


def between(rate: Rate) -> str:
    """A rate's interval: '5.1 to 15'."""
    return _to(per_1000(rate.lower), per_1000(rate.upper))


def worst(breakage: Breakage) -> str | None:
    """The worst place and how certain that is; None if nothing broke."""
    place, total = breakage.worst, breakage.total
    if place is None or total is None:
        return None
    rate = place.counted.breaks
    first = phrase(
        "{material} at {speed}: {rate} per 1,000 ({between}), {taps} broke in {holes} holes.",
        material=place.material,
        speed=speed_band(place.speed_band),
        rate=per_1000(rate.per_1000),
        between=between(rate),
        taps=counted(rate.events, "tap"),
        holes=whole(rate.holes),
    )
    return say(joined([first, _against(place, total.breaks)], " "))


def _against(place: BreakagePlace, average: Rate) -> Phrase:
    if len({place.counted.breaks.holes, average.holes}) == 1:
        return phrase("All holes were made there.")
    if place.counted.breaks.lower > average.per_1000:
        return phrase("Even the low end lies above the average of {rate}.", rate=per_1000(average.per_1000))
    return phrase(
        "The interval reaches down to the average of {rate}, so this may be chance.", rate=per_1000(average.per_1000)
    )


def tenth_life(curve: LifeCurve, mode: Mode | None) -> str:
    """The age by which one tap in ten has failed, or a lower bound to which nine in ten last."""
    value, (lower, upper) = curve.fit.life(0.1), curve.fit.life_interval(0.1)
    known = {"failed": FAILED[mode], "sure": percent(curve.fit.level)}
    if value is None:
        return say(_nine_in_ten(lower, curve.unit, known))
    return say(_one_in_ten(value, _ages(lower, upper, curve.unit), curve, known))


def _nine_in_ten(lower: float, unit: AgeUnit, known: dict[str, str]) -> Phrase:
    bound = ages.floor_of(lower, unit)
    if ages.is_holes(unit):
        return phrase(
            "At least nine taps in ten are not {failed} before hole {hole} ({sure} sure).", hole=bound, **known
        )
    told = ages.length(bound, unit)
    return phrase(
        "At least nine taps in ten are not {failed} before {length} of thread ({sure} sure).", length=told, **known
    )


def _one_in_ten(value: float, between: str, curve: LifeCurve, known: dict[str, str]) -> Phrase:
    unit = curve.unit
    age, last = ages.hole_or_length(value, unit), ages.figure_of(curve.steps.last_age, unit)
    if ages.is_holes(unit):
        known |= {"hole": age, "holes": between, "last": last}
        if not _is_beyond(curve):
            return phrase("One tap in ten is {failed} by hole {hole} ({sure}: {holes}).", **known)
        return phrase(
            "One tap in ten is {failed} by hole {hole} ({sure}: {holes}); that is beyond hole {last}, "
            "where the log ends.",
            **known,
        )
    known |= {"length": ages.length(age, unit), "lengths": ages.length(between, unit), "last": ages.length(last, unit)}
    if not _is_beyond(curve):
        return phrase("One tap in ten is {failed} by {length} of thread ({sure}: {lengths}).", **known)
    return phrase(
        "One tap in ten is {failed} by {length} of thread ({sure}: {lengths}); that is beyond {last}, "
        "where the log ends.",
        **known,
    )


def _is_beyond(curve: LifeCurve) -> bool:
    value = curve.fit.life(0.1)
    return value is not None and value > curve.steps.last_age


def at_least(age: float, unit: AgeUnit) -> str:
    """A lower bound, rounded down so that it stays one."""
    return say(phrase("at least {hole}", hole=ages.floor_of(age, unit)))


def _ages(lower: float, upper: float, unit: AgeUnit) -> str:
    low = ages.hole_or_length(lower, unit)
    if math.isinf(upper):
        return say(phrase("{low} or more", low=low))
    return _to(low, ages.hole_or_length(upper, unit))


def _to(low: str, high: str) -> str:
    return say(phrase("{low} to {high}", low=low, high=high))


def evidence(curve: LifeCurve) -> str:
    """The evidence behind the curve."""
    known, unit = curve.evidence, curve.unit
    made = counted(round(known.holes), "hole") if ages.is_holes(unit) else say(ages.told(known.holes, unit))
    return ", ".join((counted(known.taps, "tap"), counted(known.failures, "failure"), made))


def is_thin(curve: LifeCurve) -> bool:
    """Whether too few taps failed for the curve to be relied on."""
    return curve.evidence.failures < FEWEST_FAILURES


def shape(curve: LifeCurve) -> str:
    """What the shape's interval says about old taps."""
    lower, upper = curve.fit.shape_interval
    if not curve.fit.sure:
        return say(phrase("not known yet"))
    if lower > 1:
        return say(phrase("failures come more often on old taps"))
    if upper < 1:
        return say(phrase("failures come less often on old taps"))
    return say(phrase("not sure whether age matters"))


def shape_range(ends: tuple[float, float]) -> str:
    """The shape's interval; open ends are stated as such."""
    low, high = ends
    lowest = number(f"{low:.2f}")
    return say(phrase("{low} or more", low=lowest)) if math.isinf(high) else _to(lowest, number(f"{high:.2f}"))


def change(advice: Advice) -> str:
    """The suggested age with what it saves, or why there is none."""
    if advice.saving is None:
        return f"{say(advice.reason)}."
    change_at = phrase("Change at {holes} holes.", holes=whole(advice.change_at))
    if advice.thread is not None and advice.change_at is not None:
        change_at = phrase(
            "Change at {holes} holes of {depth}\u00a0mm, {length} of thread.",
            holes=whole(advice.change_at),
            depth=rounded(advice.thread.usual_mm),
            length=thread_length(advice.thread.length_m(advice.change_at)),
        )
    return f"{say(change_at)} {say(advice.reason)}. {saving(advice.saving)}."


def assumed(advice: Advice) -> str:
    """Which costs are assumptions, and the variable that sets each."""
    named = (f"{say(_COSTS[name])} ({PREFIX}{name.upper()})" for name in advice.assumed)
    return ", ".join(named)


def about_as_good(advice: Advice) -> str | None:
    """The range of ages that costs about as little."""
    told = advice.change or advice.start
    flat = None if told is None else told.flat
    if flat is None:
        return None
    last = phrase("any later age") if math.isinf(flat[1]) else whole(flat[1])
    return say(phrase("Costs at most 2 % more from {first} to {last} holes.", first=whole(flat[0]), last=last))


def start_told(start: CarefulStart) -> str:
    """The chance of failure at the initial change age, and how much evidence the log alone would need."""
    enough = phrase(
        "The log has {failures}; {enough} would be enough for advice from the log alone.",
        failures=counted(start.failures, "failure"),
        enough=start.enough,
    )
    at = next((row for row in start.rows if start.age is not None and row.age >= start.age), None)
    if at is None:
        return say(enough)
    told = phrase(
        "By hole {hole}, {failed} % of fresh taps are expected to have failed ({band} %, {sure} sure).",
        hole=whole(at.age),
        failed=share(at.failed.value),
        band=share_band((at.failed.lower, at.failed.upper)),
        sure=percent(start.level),
    )
    return say(joined([told, enough], " "))


def rests_on(advice: Advice) -> str:
    """The evidence behind the suggestion."""
    known = advice.evidence
    rests = phrase(
        "Based on {taps} used this way, {failures} among them, and {leaning}.",
        taps=counted(known.taps, "tap"),
        failures=counted(known.failures, "failure"),
        leaning=leaning_on(advice.shrinkage),
    )
    return f"{_for_holes(advice.hole)}{say(rests)}"


def _for_holes(hole: HoleConditions) -> str:
    """The kind of holes that the advice is for: the one most common with these taps."""
    said = hole.words
    return say(phrase("For holes made like most here ({words}).", words=joined(said))) + " " if said else ""


def suspect_since(incident: FailedCheck) -> str:
    """Since when the parts are suspect: 'since the check that passed on 2026-03-01 08:00'."""
    if incident.since is not None:
        at = local_time(incident.since)
        if incident.start is Since.PASSED:
            return say(phrase("since the check that passed, {at}", at=at))
        return say(phrase("since it came back from regrinding, {at}", at=at))
    before = incident.holes_before
    if before == 0:
        return say(phrase("since it was new: no check passed"))
    if before is None:
        return say(phrase("since it was first logged: no check passed, and nobody knows how many holes it had before"))
    holes = counted(before, "hole")
    return say(phrase("since it was first logged: no check passed, and it had {holes} before", holes=holes))


def suspect(incident: FailedCheck) -> str:
    """What is suspect, in short: '133 holes in 3 runs'."""
    if not incident.runs:
        return say(phrase("no run is suspect"))
    holes, runs = counted(incident.holes, "hole"), counted(len(incident.runs), "run")
    return say(phrase("{holes} in {runs} suspect", holes=holes, runs=runs))


def incidents_found(number: int) -> str:
    """'3 incidents', 'no incidents'."""
    return counted(number, "incident")


def together(values: Iterable[str | None]) -> str:
    """Each value once: 'arm-1, arm-2'."""
    return ", ".join(dict.fromkeys(value for value in values if value)) or NO_VALUE


def holes_at_break(lower: int | None, upper: int | None, logged_holes: int) -> str:
    """Holes on the tap when it broke: '447', '411 to 460', or as much as is known."""
    if lower is None or upper is None:
        return say(phrase("{holes} logged, more before", holes=whole(logged_holes)))
    return hole_of_end(lower, upper)
