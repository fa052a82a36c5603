"""What else the lives show, in plain words: goodness of fit, how taps end, what goes with longer lives."""

from __future__ import annotations

import math

from shopfloor.core.phrases import Phrase, figure, phrase, rounded
from shopfloor.core.survival.estimates import Estimate
from shopfloor.core.units import AgeUnit
from shopfloor.core.vocabulary import Mode
from shopfloor.core.weibull_fit.goodness_of_fit import GoodnessOfFit
from shopfloor.services.quality.goodness import EndingRow, Endings, Share
from shopfloor.services.quality.life_comparisons import Effect, Effects, GroupComparison
from shopfloor.web.i18n.formats import NO_VALUE, number, percent
from shopfloor.web.i18n.language import say
from shopfloor.web.quality import ages
from shopfloor.web.quality.sentences import share, share_band

ENDED = {Mode.BREAK: phrase("Broken"), Mode.WEAR: phrase("Worn out")}
BY = {"material": phrase("Material"), "speed": phrase("Speed")}
"""What is compared, as a heading."""
ODD, DOUBTFUL = 0.01, 0.10
"""P-values below which a difference is called real, or possible. Common practice, no source."""
_RAREST = 1e-4

_VERDICTS = {
    "fits": phrase("The Weibull distribution fits these lives"),
    "doubtful": phrase("The Weibull distribution is doubtful here: where the two curves differ, trust the stepped one"),
    "does not fit": phrase(
        "The Weibull distribution does not fit: trust the stepped curve; two kinds of taps or holes may be mixed"
    ),
}


def fits(goodness: GoodnessOfFit) -> str:
    """Whether the fitted curve can be trusted."""
    if goodness.chance is None:
        return phrase(
            "Too little to tell whether the smooth curve has the right form. Enough would be: {enough}.",
            enough=goodness.enough,
        )
    verdict, often = _VERDICTS[goodness.verdict], _often(goodness.chance)
    return phrase(
        "{verdict}. Taps that follow it show lives as unusual as these {often}.", verdict=verdict, often=often
    )


def _often(chance: float) -> Phrase:
    if chance < _RAREST:
        return phrase("in fewer than 1 of {logs} logs", logs=round(1 / _RAREST))
    return phrase("in {share} of logs", share=percent(chance))


def judged_by(goodness: GoodnessOfFit) -> str:
    """How the goodness of fit was judged."""
    return phrase("Judged by {n} simulated logs, each fitted again (Anderson-Darling distance).", n=goodness.draws)


def ends(endings: Endings, unit: AgeUnit) -> str:
    """How taps have ended by the last row, in a sentence."""
    if not endings.rows:
        return say(phrase("No tap was followed for even one hole."))
    last = endings.rows[-1]
    age, shares = ages.figure_of(last.age, unit), _shares(last)
    if ages.is_holes(unit):
        by_holes = phrase(
            "Of taps that are run to failure, by hole {hole}, {broken} % have broken and {worn} % have worn out; "
            "{good} % are still good.",
            hole=age,
            **shares,
        )
        return say(by_holes)
    by_length = phrase(
        "Of taps that are run to failure, by {length} of thread, {broken} % have broken and {worn} % have worn out; "
        "{good} % are still good.",
        length=ages.length(age, unit),
        **shares,
    )
    return say(by_length)


def _shares(row: EndingRow) -> dict[str, str]:
    broken, worn = (share(row.failed[mode].value) for mode in (Mode.BREAK, Mode.WEAR))
    return {"broken": broken, "worn": worn, "good": share(row.good)}


def with_band(known: Share) -> str:
    """A share with its band."""
    return share(known.value) if known.band is None else f"{share(known.value)} ({share_band(known.band)})"


_PLACES = {
    "material": phrase("in one material than in another"),
    "speed": phrase("at one speed than at another"),
}


def differs(comparison: GroupComparison) -> str:
    """Whether the groups' lives differ."""
    told = {"where": _PLACES[comparison.by], "often": _often(comparison.chance)}
    if comparison.chance < ODD:
        return phrase("Taps last longer {where}: chance alone makes so large a difference {often}.", **told)
    if comparison.chance < DOUBTFUL:
        return phrase("Taps may last longer {where}, but chance alone makes so large a difference {often}.", **told)
    return phrase(
        "Nothing shows that taps last longer {where}: chance alone makes so large a difference {often}.", **told
    )


def effect_name(effect: Effect, effects: Effects) -> str:
    """What is compared with what."""
    if effect.material is None:
        return phrase("At twice the speed")
    return phrase("In {material}, against {other}", material=effect.material, other=effects.reference)


def times(ratio: Estimate) -> str:
    """A factor on life: '0.45'."""
    return NO_VALUE if ratio.value is None else number(rounded(ratio.value, 2))


def times_band(ratio: Estimate) -> str:
    """Its interval."""
    return phrase("{low} to {high}", low=number(rounded(ratio.lower, 2)), high=number(rounded(ratio.upper, 2)))


def effect_verdict(effect: Effect, unit: AgeUnit) -> str:
    """What its interval says."""
    if effect.ratio.lower <= 1 <= effect.ratio.upper:
        return phrase("may be chance")
    if ages.is_holes(unit):
        return phrase("fewer holes") if effect.ratio.upper < 1 else phrase("more holes")
    return phrase("less thread") if effect.ratio.upper < 1 else phrase("more thread")


def speed_power(effects: Effects) -> str | None:
    """The effect of speed as the exponent that tool-life tables give."""
    speed = next((effect for effect in effects.effects if effect.material is None), None)
    if speed is None or speed.ratio.value is None:
        return None
    power, low, high = (_signed(math.log2(x)) for x in (speed.ratio.value, speed.ratio.lower, speed.ratio.upper))
    return phrase(
        "Life varies as speed to the power {power} ({sure} interval: {low} to {high}).",
        power=power,
        sure=percent(speed.ratio.level),
        low=low,
        high=high,
    )


def _signed(value: float) -> str:
    return figure(f"{value:.1f}".replace("-", "\u2212"))
