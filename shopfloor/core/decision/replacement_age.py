"""When to change taps, over all life distributions that the log allows: the age of least expected regret.

Replacing at age T or at failure, if that comes first, costs per hole in the long run
    g(T) = (Cp S(T) + sum over modes of C_mode F_mode(T)) / integral of S from 0 to T.
The distribution is unknown, so each age is judged by its relative cost over the best age under each posterior draw,
averaged over the draws. Costs are relative to each draw's own best, or short-lived draws would count for more.

That is right for an age that is kept. While a log is young the next tap teaches another age, so what counts is nearer
to what this one tap loses, which is less for an early change: the relative cost over the best, weighted by
(L(T) / L(best))^e with L the expected holes of a tap, and e between 0 (an age that is kept) and 1 (a single tap); see
`LIGHTER`.

On 160 simulated shops a scenario with 3 failures a group (`tests/bench/regret_policy.py`), mean regret where hazards
rise, where they are flat, and groups harmed there were 4.41, 3.05 and 10.2 % without `HARM`, 4.54, 2.71 and 8.7 % with
a half, 4.63, 2.49 and 7.7 % with the whole. A penalty on the probability of harm, or no age above some probability of
it, did as well or worse.

References: R. Barlow & L. Hunter, Optimum preventive maintenance policies, Operations Research 8 (1960) 90-100;
L. J. Savage, The theory of statistical decision, J. Amer. Statist. Assoc. 46 (1951) 55-67 (regret).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

import numpy as np

from shopfloor.core.errors import InputError
from shopfloor.core.hierarchical.model.exploration import SETTLED, Experience
from shopfloor.core.hierarchical.prediction.draws import Draws, weights
from shopfloor.core.phrases import Phrase, phrase
from shopfloor.core.survival.censored_data import FloatArray

AGES = np.concatenate([[0.0], np.geomspace(0.01, 12.0, 96)])
"""Candidate ages searched, in units of a typical life."""

NEVER = len(AGES) - 3
"""From this index on, practically no tap reaches the age."""

WORTH_SAYING = 0.02
"""An expected saving below 2 % does not count as a gain: it would be lost in daily practice. Common practice, no
source."""

HARM = 0.5
"""Extra weight of what an age costs over running to failure: people who changed a good tap because they were told to,
and pay for it, will not trust advice again. While the log is young it weighs less, as a change in time is then the
mistake that costs little. Common practice, no source."""

LIGHTER = 0.3
"""The exponent e for an empty log. Nearer to 1, the first taps are changed so early that nothing is learnt."""

FEWEST_FAILURES = 3
"""In the whole log: with fewer, any saving is a guess, so no change is advised. Common practice, no source."""

FLAT = 0.02
"""Ages whose expected cost is within 2 % of the least are as good. Common practice, no source."""

LEVELS = (FLAT, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0)
"""Losses whose ages are stored, from which the loss at any age is interpolated."""


Gain = Literal["sure", "likely", "start", "none"]

_REASONS: dict[Gain, str] = {
    "sure": phrase("Changing in time saves: failures come more often on old taps, and they cost more"),
    "likely": phrase("Changing in time probably saves: failures seem to come more often on old taps"),
    "start": phrase("A careful start: the log is too young to tell how long taps like this last"),
    "none": phrase("Nothing to gain by changing in time: it would cost about as much as it saves, or more"),
}


def too_few(failures: int) -> Phrase:
    """Why nothing is advised with fewer than `FEWEST_FAILURES` in the log."""
    return phrase(
        "Too few failures in the log ({failures}) to say whether changing in time saves; {enough} would be enough",
        failures=failures,
        enough=FEWEST_FAILURES,
    )


@dataclass(frozen=True)
class Costs:
    """Whole costs, in any one currency.

    Attributes
    ----------
    planned    of a change in time
    failure    of a failure by each mode, in the order of the draws
    stop       of a change within a batch, beyond one between batches

    Raises
    ------
    InputError    a cost that is not finite and above 0 (`stop`: not below 0)
    """

    planned: float
    failure: tuple[float, ...]
    stop: float = 0.0

    def __post_init__(self) -> None:
        for name, cost in (("cost_planned", self.planned), *(("cost_failure", cost) for cost in self.failure)):
            if not (np.isfinite(cost) and cost > 0):
                raise InputError.of(
                    name, phrase("{cost} is not a valid cost", cost=cost), "give a finite amount above 0"
                )
        if not (np.isfinite(self.stop) and self.stop >= 0):
            raise InputError.of(
                "stop", phrase("{cost} is not a valid cost", cost=self.stop), "give a finite amount, or 0"
            )


@dataclass(frozen=True)
class LossProfile:
    """Loss from changing earlier or later than at the best age, as a share of the cost per hole.

    Attributes
    ----------
    early, late    ages (holes) at which the loss first passes each of `LEVELS`, going away from the best; fewer where
                   it never becomes that large
    stop           loss from stopping a batch, as a share of what a tap costs
    """

    early: tuple[float, ...]
    late: tuple[float, ...]
    stop: float


@dataclass(frozen=True)
class ReplacementPolicy:
    """Whether and when to change taps in time.

    Attributes
    ----------
    age : float or None              holes; None where nothing is gained by changing in time
    saving : float                   share of the expected cost per hole of running to failure; 0 without an age
    saving_interval : (from, to)     its credible interval; where no age is advised, that of the best age
    chance_of_saving : float         probability that changing then costs less than running to failure
    flat : (from, to) or None        ages about as good; `to` infinite where running to failure is about as good
    losses : LossProfile or None     what other ages lose
    cost_per_hole : float            expected at that age
    cost_per_hole_run_to_failure : float
    holes_per_tap : float            expected of a tap that is changed then, or at failure
    level : float                    of the interval
    is_start : bool                  prior knowledge speaks, not the log: it holds fewer than `FEWEST_FAILURES`
    """

    age: float | None
    saving: float
    saving_interval: tuple[float, float]
    chance_of_saving: float
    flat: tuple[float, float] | None
    losses: LossProfile | None
    cost_per_hole: float
    cost_per_hole_run_to_failure: float
    holes_per_tap: float
    level: float
    is_start: bool = False

    @property
    def gain(self) -> Gain:
        """How certain it is that changing in time saves."""
        if self.age is None:
            return "none"
        if self.is_start:
            return "start"
        return "sure" if self.saving_interval[0] > 0 else "likely"

    @property
    def reason(self) -> str:
        """The same as a sentence for an operator."""
        return _REASONS[self.gain]

    @property
    def plain(self) -> dict[str, Any]:
        """The same in plain values that JSON can hold."""
        return asdict(self)

    @classmethod
    def of_plain(cls, told: dict[str, Any]) -> ReplacementPolicy:
        """The policy whose `plain` values these are."""
        losses, flat = told["losses"], told["flat"]
        return cls(
            **{
                **told,
                "saving_interval": tuple(told["saving_interval"]),
                "flat": None if flat is None else tuple(flat),
                "losses": None
                if losses is None
                else LossProfile(tuple(losses["early"]), tuple(losses["late"]), losses["stop"]),
            }
        )


def best_policy(
    draws: Sequence[Draws], costs: Costs, level: float, experience: Experience = SETTLED
) -> ReplacementPolicy:
    """The policy of least expected regret for taps of a condition.

    Parameters
    ----------
    draws         joint draws of each mode of failure; the modes compete
    costs         with one failure cost for each mode
    level         of the credible interval of the saving, between 0 and 1
    experience    what the log holds; if omitted, nothing is to be learnt from the next tap

    Returns
    -------
    ReplacementPolicy    `age` None where the expected saving is below `WORTH_SAYING`

    Raises
    ------
    InputError    the number of failure costs differs from that of the modes
    """
    if len(costs.failure) != len(draws):
        raise InputError.of(
            "cost_failure",
            phrase("{number} costs", number=len(costs.failure)),
            phrase("give {number}, one for each mode", number=len(draws)),
        )
    weight = weights(draws)
    ages = AGES * _typical_life(draws)
    rates, lengths = _cost_rates(draws, costs, ages)
    over = rates / rates.min(axis=1, keepdims=True)
    lost = _lost(over, lengths, LIGHTER * experience.youth)
    lost = lost + HARM * (1 - experience.youth) * np.maximum(rates / rates[:, -1:] - 1, 0.0)
    loss = _reaching(weight, lengths[:, -1], experience.optimism) @ lost
    best = int(loss.argmin())
    saved = 1 - rates[:, best] / rates[:, -1]
    worth = 1 - float(loss[best] / loss[-1])
    is_gain = best < NEVER and worth >= WORTH_SAYING
    good = np.flatnonzero(loss <= loss[best] * (1 + FLAT))
    last = np.inf if good[-1] >= NEVER else float(ages[1 + good[-1]])
    age = max(1.0, _lowest(ages[1:], loss, best)) if is_gain else None
    of_a_tap = float(weight @ rates[:, best] * (weight @ lengths[:, best]))
    cost, to_failure = (float(weight @ rates[:, place]) for place in (best if is_gain else -1, -1))
    return ReplacementPolicy(
        age=age,
        saving=1 - cost / to_failure,
        saving_interval=credible_interval(saved, weight, level),
        chance_of_saving=float(weight @ (saved > 0)),
        flat=(float(ages[1 + good[0]]), last) if is_gain else None,
        losses=None
        if age is None
        else _loss_profile(ages[1:], loss / loss[best] - 1, best, age, costs.stop / of_a_tap),
        cost_per_hole=cost,
        holes_per_tap=float(weight @ lengths[:, best if is_gain else -1]),
        cost_per_hole_run_to_failure=to_failure,
        level=level,
        is_start=experience.failures < FEWEST_FAILURES,
    )


def _loss_profile(ages: FloatArray, lost: FloatArray, best: int, age: float, stop: float) -> LossProfile:
    """Ages at which the loss first passes each level, on both sides of the best age."""
    log_ages = np.log(ages)
    before, after = np.maximum.accumulate(lost[best::-1]), np.maximum.accumulate(lost[best:])
    early = [min(age, _passed(log_ages[best::-1], before, level)) for level in LEVELS if before[-1] > level]
    late = [max(age, _passed(log_ages[best:], after, level)) for level in LEVELS if after[-1] > level]
    return LossProfile(tuple(early), tuple(late), stop)


def _passed(log_ages: FloatArray, lost: FloatArray, level: float) -> float:
    return float(np.exp(np.interp(level, lost, log_ages)))


def _lost(over: FloatArray, lengths: FloatArray, exponent: float) -> FloatArray:
    """1 plus the loss of each age over the best under its draw, (s, t) as `over`, the ratio of rates to their least."""
    if not exponent:
        return over
    best = np.take_along_axis(lengths, over.argmin(axis=1)[:, None], axis=1)
    return np.asarray(1 + (over - 1) * (lengths / best) ** exponent)


def _reaching(weight: FloatArray, life: FloatArray, optimism: float) -> FloatArray:
    """The weights, tilted so that the mean log life is about `optimism` standard deviations higher."""
    if not optimism:
        return weight
    away = np.log(life) - weight @ np.log(life)
    tilted = weight * np.exp(np.clip(optimism * away / np.sqrt(weight @ away**2 + 1e-12), -5.0, 5.0))
    return np.asarray(tilted / tilted.sum())


@dataclass(frozen=True, eq=False)
class Cycle:
    """Renewal cycles, each tap changed at an age or at failure; by draw.

    Attributes
    ----------
    rate : (s,)            cost per hole
    least : (s,)           the same at each draw's own best age
    length : (s,)          expected holes of a tap
    failed : (modes, s)    share of taps that fail by each mode
    """

    rate: FloatArray
    least: FloatArray
    length: FloatArray
    failed: FloatArray


def cycle(draws: Sequence[Draws], age: float | None, costs: Costs | None = None) -> Cycle:
    """The renewal cycle under each draw.

    Parameters
    ----------
    draws    joint draws of each mode
    age      holes at which taps are changed; None: run to failure
    costs    of a change and of a failure by each mode; None: all 1
    """
    costs = Costs(1.0, (1.0,) * len(draws)) if costs is None else costs
    ages = AGES * _typical_life(draws)
    ages = ages if age is None else np.unique(np.append(ages, age))
    rates, lengths = _cost_rates(draws, costs, ages)
    hazard = np.array([one.cumulative_hazard(ages) for one in draws])
    place = -1 if age is None else int(np.searchsorted(ages[1:], age))
    failed = _failed(hazard, np.exp(-hazard.sum(axis=0)))[..., place]
    return Cycle(rates[:, place], rates.min(axis=1), lengths[:, place], failed)


def credible_interval(values: FloatArray, weight: FloatArray, level: float) -> tuple[float, float]:
    """Equal-tailed credible interval of weighted draws.

    Parameters
    ----------
    values, weight : (s,)    draws and their normalised weights
    level                    between 0 and 1
    """
    order = np.argsort(values)
    reached = np.cumsum(weight[order]) - weight[order] / 2
    low, high = np.interp([(1 - level) / 2, (1 + level) / 2], reached, values[order])
    return float(low), float(high)


def _typical_life(draws: Sequence[Draws]) -> float:
    return float(np.exp(np.median(np.min([one.log_scale[:, -1] for one in draws], axis=0))))


def _cost_rates(draws: Sequence[Draws], costs: Costs, ages: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Cost per hole of changing at each age but the first (0), and holes made until then, by draw: (s, t - 1) each."""
    hazard = np.array([one.cumulative_hazard(ages) for one in draws])
    survival = np.exp(-hazard.sum(axis=0))
    length = np.cumsum(np.diff(ages) * (survival[:, 1:] + survival[:, :-1]) / 2, axis=1)
    cost = costs.planned * survival[:, 1:]
    for failed, cost_of_failure in zip(_failed(hazard, survival), costs.failure, strict=True):
        cost = cost + cost_of_failure * failed
    return np.asarray(cost / length), length


def _failed(hazard: FloatArray, survival: FloatArray) -> FloatArray:
    """Share that has failed by each mode up to each age but the first, shape (modes, s, t - 1).

    Failures between two ages are attributed to the modes by their share of the hazard there.
    """
    whole = 1 - survival[None, :, 1:]
    if len(hazard) == 1:
        return np.asarray(whole)
    lost, total = survival[:, :-1] - survival[:, 1:], np.diff(hazard.sum(axis=0), axis=1)
    share = np.diff(hazard[:-1], axis=2) / np.where(total > 0, total, 1.0)
    failed = np.cumsum(share * lost, axis=2)
    return np.concatenate([failed, np.maximum(whole - failed.sum(axis=0), 0.0)])


def _lowest(ages: FloatArray, regret: FloatArray, best: int) -> float:
    """The age at the minimum of the parabola through the least regret and its neighbours, by log age."""
    if not 0 < best < len(ages) - 1:
        return float(ages[best])
    left, middle, right = regret[best - 1 : best + 2]
    bend = left - 2 * middle + right
    off = 0.5 * (left - right) / bend if bend > 0 else 0.0
    return float(ages[best] * (ages[best + 1] / ages[best]) ** np.clip(off, -0.5, 0.5))
