"""Findings in plain words, for a meeting."""

from __future__ import annotations

import math
from collections.abc import Iterable

from shopfloor.core.circumstances import Circumstances
from shopfloor.core.counting import counted as count_words
from shopfloor.core.pool.advice import FEWEST_FAILURES
from shopfloor.core.rates import Rate
from shopfloor.core.vocabulary import Mode
from shopfloor.services.advice import Advice
from shopfloor.services.findings import Breakage, Place
from shopfloor.services.life_curves import Choice, LifeCurve
from shopfloor.settings import PREFIX
from shopfloor.web.formats import NO_VALUE, leaning_on, percent, saving, thread_length, whole

_LEAST_SHARE = 0.001

_COSTS = {
    "default_tap_cost": "a tap without a price",
    "change_cost": "changing it",
    "break_cost": "a break",
    "wear_cost": "a worn tap",
}

FAILED = {None: "broken or worn out", Mode.BREAK: "broken", Mode.WEAR: "worn out"}
STILL_GOOD = {None: "Taps still good", Mode.BREAK: "Taps not broken", Mode.WEAR: "Taps not worn out"}


def counted(number: int, one: str, many: str | None = None) -> str:
    """A count with its noun: '1 tap', '8 taps', 'no taps'."""
    words = count_words(number, one, many)
    return words if number else f"no{words[1:]}"


def options(choices: Iterable[Choice]) -> list[tuple[str, str]]:
    """Entries of a list to choose from, each with how many failed of how many taps."""
    return [(c.value, f"{c.label} ({whole(c.failures)} of {whole(c.lives)})") for c in choices]


def same(codes: Iterable[str]) -> list[tuple[str, str]]:
    """Entries that read as they are sent."""
    return [(code, code) for code in codes]


def per_1000(value: float) -> str:
    """A rate with as many decimals as a reader needs: '0.25', '9.2', '165'."""
    return f"{value:,.0f}" if value >= 9.95 or value == 0 else f"{value:.1f}" if value >= 0.995 else f"{value:.2f}"


def share(value: float | None) -> str:
    """A share in per cent, without the sign: '8.4', '23'."""
    if value is None:
        return NO_VALUE
    if 0 < value < _LEAST_SHARE:
        return f"<{100 * _LEAST_SHARE:g}"
    return f"{100 * value:.0f}" if value >= 0.0995 or value == 0 else f"{100 * value:.1f}"


def share_band(ends: tuple[float, float]) -> str:
    """A share's interval, in per cent without the sign."""
    low, high = share(ends[0]), share(ends[1])
    return low if low == high else f"{low} to {high}"


def between(rate: Rate) -> str:
    """A rate's interval: '5.1 to 15'."""
    return f"{per_1000(rate.lower)} to {per_1000(rate.upper)}"


def worst(breakage: Breakage) -> str | None:
    """The worst place with how sure it is; None where nothing broke."""
    place, total = breakage.worst, breakage.total
    if place is None or total is None:
        return None
    rate = place.counted.breaks
    first = (
        f"{place.material} at {place.speed_band}: {per_1000(rate.per_1000)} per 1,000 ({between(rate)}), "
        f"{counted(rate.events, 'tap')} broke in {whole(rate.holes)} holes."
    )
    return f"{first} {_against(place, total.breaks)}"


def _against(place: Place, average: Rate) -> str:
    if len({place.counted.breaks.holes, average.holes}) == 1:
        return "All holes were made there."
    if place.counted.breaks.lower > average.per_1000:
        return f"Even the low end lies above the average of {per_1000(average.per_1000)}."
    return f"The interval reaches down to the average of {per_1000(average.per_1000)}, so this may be chance."


def tenth_life(curve: LifeCurve, mode: Mode | None) -> str:
    """By which hole one tap in ten has failed, or how far nine in ten surely last."""
    value, (lower, upper) = curve.fit.life(0.1), curve.fit.life_interval(0.1)
    sure = percent(curve.fit.level)
    if value is None:
        return f"At least nine taps in ten are not {FAILED[mode]} before hole {_floor(lower)} ({sure} sure)."
    text = f"One tap in ten is {FAILED[mode]} by hole {_hole(value)} ({sure}: {_holes(lower, upper)})"
    beyond = f"; that is beyond hole {whole(curve.steps.last_age)}, where the log ends" if _is_beyond(curve) else ""
    return f"{text}{beyond}."


def _is_beyond(curve: LifeCurve) -> bool:
    value = curve.fit.life(0.1)
    return value is not None and value > curve.steps.last_age


def at_least(age: float) -> str:
    """A lower bound, rounded down so that it stays one."""
    return f"at least {_floor(age)}"


def _floor(age: float) -> str:
    return whole(math.floor(age))


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


def is_thin(curve: LifeCurve) -> bool:
    """Whether so few taps failed that the curve is not to be relied on."""
    return curve.evidence.failures < FEWEST_FAILURES


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


def shape_range(ends: tuple[float, float]) -> str:
    """The shape's interval; an end that the data leave open says so."""
    low, high = ends
    return f"{low:.2f} or more" if math.isinf(high) else f"{low:.2f} to {high:.2f}"


def change(advice: Advice) -> str:
    """The suggested age with what it saves, or why there is none."""
    if advice.saving is None:
        return f"{advice.reason}."
    return f"Change at {whole(advice.change_at)} holes{_in_length(advice)}. {advice.reason}. {saving(advice.saving)}."


def _in_length(advice: Advice) -> str:
    """The same in length of thread, where the shop counts so."""
    if advice.thread is None or advice.change_at is None:
        return ""
    return (
        f" of {advice.thread.usual_mm:g}\u00a0mm, {thread_length(advice.thread.length_m(advice.change_at))} of thread"
    )


def assumed(advice: Advice) -> str:
    """Which costs are the tool's assumption, and what sets each."""
    named = (f"{_COSTS[name]} ({PREFIX}{name.upper()})" for name in advice.assumed)
    return ", ".join(named)


def about_as_good(advice: Advice) -> str | None:
    """The ages that cost about as little."""
    flat = None if advice.change is None else advice.change.flat
    if flat is None:
        return None
    first, last = whole(flat[0]), "any later age" if math.isinf(flat[1]) else whole(flat[1])
    return f"From {first} to {last} holes costs within 2 % of it."


def rests_on(advice: Advice) -> str:
    """What the suggestion rests on."""
    known = advice.evidence
    return (
        f"{_for_holes(advice.circumstances)}It rests on {counted(known.taps, 'tap')} used just so, "
        f"{counted(known.failures, 'failure')} among them, and {leaning_on(advice.leaning)}."
    )


def _for_holes(circumstances: Circumstances) -> str:
    """The holes that the advice is for, as most of these taps made them."""
    said = circumstances.words
    return f"For holes as most were made here ({', '.join(said)}). " if said else ""


def holes_at_break(lower: int | None, upper: int | None, logged_holes: int) -> str:
    """Holes on the tap when it broke: '447', '411 to 460', or what is known."""
    if lower is None or upper is None:
        return f"{whole(logged_holes)} logged, more before"
    return whole(upper) if lower == upper else f"{whole(lower + 1)} to {whole(upper)}"
