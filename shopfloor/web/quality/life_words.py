"""What else the lives tell, in plain words: whether the law fits, how taps end, what goes with longer lives."""

from __future__ import annotations

import math

from shopfloor.core.goodness import Goodness
from shopfloor.core.intervals import Estimate
from shopfloor.core.vocabulary import Mode
from shopfloor.services.life_checks import Endings, Share
from shopfloor.services.life_groups import Comparison, Effect, Effects
from shopfloor.web.formats import percent, whole
from shopfloor.web.quality.sentences import share, share_band

ENDED = {Mode.BREAK: "Broken", Mode.WEAR: "Worn out"}
ODD, DOUBTFUL = 0.01, 0.10
"""Chances below which a difference is called one, and may be one. Common practice, no source."""


_VERDICTS = {
    "fits": "The Weibull law fits these lives",
    "doubtful": "The Weibull law is doubtful here: where the two curves differ, trust the stepped one",
    "does not fit": "The Weibull law does not fit: trust the stepped curve; two kinds of taps or holes may be mixed",
}


def fits(goodness: Goodness) -> str:
    """Whether the curve's law may be believed."""
    if goodness.chance is None:
        return f"Too little to tell whether the smooth curve has the right form. Enough would be: {goodness.enough}."
    return f"{_VERDICTS[goodness.verdict]}. Taps that follow it leave lives as odd as these {_often(goodness.chance)}."


def _often(chance: float) -> str:
    return "in fewer than 1 of 10,000 logs" if chance < 1e-4 else f"in {percent(chance)} of logs"


def judged_by(goodness: Goodness) -> str:
    """How that was found."""
    return f"Judged by {goodness.draws:,} simulated logs, each fitted again (Anderson-Darling distance)."


_PAST = {Mode.BREAK: "broken", Mode.WEAR: "worn out"}


def ends(endings: Endings) -> str:
    """How taps have ended by the last row, in a sentence."""
    if not endings.rows:
        return "No tap was followed for a whole hole."
    last = endings.rows[-1]
    told = " and ".join(f"{share(last.failed[mode].value)} % have {_PAST[mode]}" for mode in Mode)
    return f"Of taps that are run to failure, by hole {whole(last.age)}, {told}; {share(last.good)} % are still good."


def with_band(known: Share) -> str:
    """A share with its band."""
    return share(known.value) if known.band is None else f"{share(known.value)} ({share_band(known.band)})"


_PLACES = {"material": "in one material than in another", "speed": "at one speed than at another"}


def differs(comparison: Comparison) -> str:
    """Whether the groups live equally long."""
    where, often = _PLACES[comparison.by], _often(comparison.chance)
    by_chance = f"chance alone makes so large a difference {often}"
    if comparison.chance < ODD:
        return f"Taps last longer {where}: {by_chance}."
    if comparison.chance < DOUBTFUL:
        return f"Taps may last longer {where}, but {by_chance}."
    return f"Nothing shows that taps last longer {where}: {by_chance}."


def effect_name(effect: Effect, effects: Effects) -> str:
    """What is compared with what."""
    return "At twice the speed" if effect.material is None else f"In {effect.material}, against {effects.reference}"


def times(ratio: Estimate) -> str:
    """A factor on life: '0.45'."""
    return "–" if ratio.value is None else f"{ratio.value:.2g}"


def times_band(ratio: Estimate) -> str:
    """Its interval."""
    return f"{ratio.lower:.2g} to {ratio.upper:.2g}"


def effect_verdict(effect: Effect) -> str:
    """What the interval says of it."""
    if effect.ratio.upper < 1:
        return "fewer holes"
    return "more holes" if effect.ratio.lower > 1 else "may be chance"


def speed_power(effects: Effects) -> str | None:
    """The effect of speed as the power that tables of tool life give."""
    speed = next((effect for effect in effects.effects if effect.material is None), None)
    if speed is None or speed.ratio.value is None:
        return None
    power, low, high = (math.log2(value) for value in (speed.ratio.value, speed.ratio.lower, speed.ratio.upper))
    sure = percent(speed.ratio.level)
    told = f"Life goes with speed to the power {power:.1f} ({sure} interval: {low:.1f} to {high:.1f})."
    return told.replace("-", "\u2212")
