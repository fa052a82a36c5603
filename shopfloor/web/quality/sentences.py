"""Findings in plain words, for a meeting."""

from __future__ import annotations

import math
from collections.abc import Iterable

from shopfloor.core.rates import Rate
from shopfloor.core.vocabulary import Mode
from shopfloor.services.advice import Advice
from shopfloor.services.findings import Breakage, Place
from shopfloor.services.life_curves import Choice, LifeCurve
from shopfloor.store.queries.findings import BrokenTap
from shopfloor.web.formats import decimal, percent, whole

FAILED = {None: "broken or worn out", Mode.BREAK: "broken", Mode.WEAR: "worn out"}
STILL_GOOD = {None: "Taps still good", Mode.BREAK: "Taps not broken", Mode.WEAR: "Taps not worn out"}


def counted(number: int, one: str, many: str | None = None) -> str:
    """A count with its noun: '1 tap', '8 taps', 'no taps'."""
    noun = one if number == 1 else many or f"{one}s"
    return f"{whole(number) if number else 'no'} {noun}"


def options(choices: Iterable[Choice]) -> list[tuple[str, str]]:
    """Entries of a list to choose from, each with the lives behind it."""
    return [(c.value, f"{c.label} ({counted(c.lives, 'tap')}, {whole(c.failures)} failed)") for c in choices]


def same(codes: Iterable[str]) -> list[tuple[str, str]]:
    """Entries that read as they are sent."""
    return [(code, code) for code in codes]


def between(rate: Rate) -> str:
    """A rate's interval: '5.1 to 15'."""
    return f"{decimal(rate.lower)} to {decimal(rate.upper)}"


def worst(breakage: Breakage) -> str | None:
    """The worst place with how sure it is; None where nothing broke."""
    place, total = breakage.worst, breakage.total
    if place is None or total is None:
        return None
    rate = place.counted.breaks
    first = (
        f"{place.material} at {place.speed_band}: {decimal(rate.per_1000)} per 1,000 ({between(rate)}), "
        f"{counted(rate.events, 'tap')} broke in {whole(rate.holes)} holes."
    )
    return f"{first} {_against(place, total.breaks)}"


def _against(place: Place, average: Rate) -> str:
    if len({place.counted.breaks.holes, average.holes}) == 1:
        return "All holes were made there."
    if place.counted.breaks.lower > average.per_1000:
        return f"Even the low end lies above the average of {decimal(average.per_1000)}."
    return f"The interval reaches down to the average of {decimal(average.per_1000)}, so this may be chance."


def tenth_life(curve: LifeCurve, mode: Mode | None) -> str:
    """By which hole one tap in ten has failed, or how far nine in ten surely last."""
    value, (lower, upper) = curve.fit.life(0.1), curve.fit.life_interval(0.1)
    sure = f"{curve.fit.level:.0%}".replace("%", " %")
    if value is None:
        return f"At least nine taps in ten are not {FAILED[mode]} before hole {whole(math.floor(lower))} ({sure} sure)."
    text = f"One tap in ten is {FAILED[mode]} by hole {_hole(value)} ({sure}: {_holes(lower, upper)})"
    beyond = f"; that is beyond hole {whole(curve.steps.last_age)}, where the log ends" if _is_beyond(curve) else ""
    return f"{text}{beyond}."


def _is_beyond(curve: LifeCurve) -> bool:
    value = curve.fit.life(0.1)
    return value is not None and value > curve.steps.last_age


def _hole(age: float) -> str:
    return "1" if age < 1 else whole(age)


def _holes(lower: float, upper: float) -> str:
    if math.isinf(upper):
        return f"{_hole(lower)} or more"
    return f"{_hole(lower)} to {_hole(upper)}"


def evidence(curve: LifeCurve) -> str:
    """What the curve rests on."""
    known = curve.evidence
    return f"{counted(known.taps, 'tap')}, {counted(known.failures, 'failure')}, {counted(round(known.holes), 'hole')}"


def shape(curve: LifeCurve) -> str:
    """What the shape's interval says about old taps."""
    lower, upper = curve.fit.shape_interval
    if not curve.fit.sure:
        return "not known yet"
    if lower > 1:
        return "failures come more often on old taps"
    if upper < 1:
        return "failures come less often on old taps"
    return "not sure whether age matters"


def change(advice: Advice) -> str:
    """The suggested age with what it saves, or why there is none."""
    plan = advice.replacement
    if plan is None:
        return "No suggestion yet: no life of this tap type is known."
    if advice.change_at is None or plan.plan is None or plan.saving_interval is None:
        return f"{plan.reason}."
    low, high = (percent(share) for share in plan.saving_interval)
    saving = f"saves {percent(plan.plan.saving)} of the cost per hole ({plan.level:.0%}: {low} to {high})"
    return f"Change at {whole(advice.change_at)} holes: {saving}. {plan.reason}."


def rests_on(advice: Advice) -> str | None:
    """Which taps the suggestion rests on, where those are not the ones shown."""
    if advice.group is None or advice.reach == "at this speed":
        return None
    known = advice.group.evidence
    return (
        f"It rests on taps of this type {advice.reach}: {counted(known.taps, 'tap')}, "
        f"{counted(known.failures, 'failure')}, {counted(round(known.holes), 'hole')}."
    )


def holes_at_break(broken: BrokenTap) -> str:
    """Holes on the tap when it broke: '447', '411 to 460', or what is known."""
    if broken.lower is None or broken.upper is None:
        return f"{whole(broken.logged_holes)} logged, more before"
    if broken.lower == broken.upper:
        return whole(broken.upper)
    return f"{whole(broken.lower + 1)} to {whole(broken.upper)}"
