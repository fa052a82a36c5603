"""How far cutting slips foretell breaks in a shop, learned from its own log: what is usual, and how much they count.

Usual are the slips per hole of like taps in like material that have used up as much of their life: slips rise with use
in every tap, and what use says of the hazard is told by the laws of life already.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar

from shopfloor.core.hierarchical.inference.posterior import Posterior
from shopfloor.core.hierarchical.model.conditions import Condition, IntArray
from shopfloor.core.hierarchical.prediction.slip_factor import SlipEvidence, log_factor, recent
from shopfloor.core.survival.censored_data import BoolArray, FloatArray

AGES = (0.03, 0.1, 0.2, 0.4, 0.7, 1.2)
"""Cumulative hazards that part young from old taps: a tenth, a fifth, a third, half, 0.7 and more of the lives ended
lie about there. Common practice, no source."""

LEAN_HOLES, LEAN_SLIPS = 200.0, 5.0
"""A tap type's slips in a material lean on the material's as on so many holes; those of an age on all, as on so many
slips. Common practice, no source."""

STRENGTH_MEAN = 1.0
"""What is believed of b beforehand: exponential, most likely no effect, and that is what stands until several breaks
speak against it. At b = 1 a tap whose slips are known to come twice as often breaks twice as easily."""

FEWEST_BREAKS = 5
"""Breaks below which nothing is learned. Common practice, no source."""

MOST_STRENGTH = 5.0
_MOST_LOG_HAZARD = 30.0
_ROUNDS = 2
_Kind = tuple[str, str]


@dataclass(frozen=True, eq=False)
class SlipRuns:
    """Runs of whole lives, life after life, each in the order of its runs.

    Attributes
    ----------
    life : (n,)               number of the life, rising
    condition : (n,)          place in `conditions`
    conditions                what the runs were made in
    holes : (n,)              made in the run
    life_holes : (n,)         the same as lives are counted: holes, or holes of the usual depth
    before : (n,)             such holes on the tap when it was first seen, in its first run; 0 in the others
    slips : (n,)              cutting slips; NaN where they were not told, or could not tell: the clutch ends each hole
                              at its bottom, or there is none
    broke : (n,)              whether the tap broke in it
    """

    life: IntArray
    condition: IntArray
    conditions: Sequence[Condition]
    holes: FloatArray
    life_holes: FloatArray
    before: FloatArray
    slips: FloatArray
    broke: BoolArray

    def since(self, life: int) -> SlipRuns:
        """The runs of the lives from this number on."""
        rest = slice(int(np.searchsorted(self.life, life)), None)
        return SlipRuns(
            self.life[rest], self.condition[rest], self.conditions, self.holes[rest], self.life_holes[rest],
            self.before[rest], self.slips[rest], self.broke[rest],
        )  # fmt: skip

    @property
    def first(self) -> IntArray:
        """The place of the first run of each one's life, shape (n,)."""
        places = np.arange(len(self.life))
        starts = np.concatenate([[True], self.life[1:] != self.life[:-1]])[: len(places)]
        return np.maximum.accumulate(np.where(starts, places, 0))


@dataclass(frozen=True, eq=False)
class _Used:
    """Life used up before and after each run in characteristic lives of its condition, and the shape there: (n,)."""

    start: FloatArray
    end: FloatArray
    shape: FloatArray

    @classmethod
    def of(cls, runs: SlipRuns, known: Posterior) -> _Used:
        """By the middle of what is known of each condition."""
        log_shape, log_scale = _middle(known, runs.conditions)
        by_hole = np.exp(-log_scale)[runs.condition]
        total = np.cumsum((runs.before + runs.life_holes) * by_hole)
        end = total - np.concatenate([[0.0], total])[runs.first]
        start = np.maximum(end - runs.life_holes * by_hole, 0.0)
        return cls(start, np.maximum(end, start), np.exp(log_shape)[runs.condition])

    @property
    def hazard(self) -> FloatArray:
        """By how much the cumulative hazard grew in each run."""
        ends = (self.start, self.end)
        with np.errstate(divide="ignore"):
            before, after = (np.exp(np.minimum(self.shape * np.log(end), _MOST_LOG_HAZARD)) for end in ends)
        return np.asarray(after - before)

    @property
    def at_ages(self) -> FloatArray:
        """The share of each run's holes that fell between these AGES, shape (n, a); its sum is 1."""
        edges = np.array([0.0, *AGES, np.inf]) ** (1 / self.shape[:, None])
        start, end = self.start[:, None], self.end[:, None]
        within = np.clip(end, edges[:, :-1], edges[:, 1:]) - np.clip(start, edges[:, :-1], edges[:, 1:])
        width = end - start
        at_once = (edges[:, :-1] <= start) & (start < edges[:, 1:])
        return np.where(width > 0, within / np.where(width > 0, width, 1.0), at_once)


def _middle(known: Posterior, conditions: Sequence[Condition]) -> tuple[FloatArray, FloatArray]:
    """Log shape and log scale of each condition on the mean, shape (c,)."""
    rows = known.design.rows(conditions)
    mean = known.weight @ (known.effects @ rows.of_effects.T + rows.more)
    return np.asarray(mean[0::2]), np.asarray(mean[1::2])


@dataclass(frozen=True, eq=False)
class SlipLaw:
    """Slips per hole of (tap type, material), how they go with age, and b, the power with which they count."""

    rates: Mapping[_Kind, float]
    by_age: FloatArray
    strength: float

    def told(self, runs: SlipRuns, used: _Used) -> FloatArray:
        """Holes, slips and usual slips of each run, shape (3, n); 0 where slips were not told."""
        tells = ~np.isnan(runs.slips)
        usual = _rates(self.rates, runs) * runs.holes * (used.at_ages @ self.by_age)
        return np.where(tells, np.array([runs.holes, np.where(tells, runs.slips, 0.0), usual]), 0.0)

    def before_each(self, runs: SlipRuns, known: Posterior) -> FloatArray:
        """Log of the factor on the hazard in each run, by what the runs before it tell, shape (n,)."""
        told = recent(self.told(runs, _Used.of(runs, known)), np.arange(len(runs.life)), runs.first)
        return log_factor(told[1], told[2], self.strength)

    def now(self, runs: SlipRuns, known: Posterior) -> dict[int, SlipEvidence]:
        """What slips say of the coming holes of each life, by its number."""
        if not len(runs.life) or self.strength == 0:
            return {}
        last = np.append(np.flatnonzero(np.diff(runs.life)), len(runs.life) - 1)
        told = recent(self.told(runs, _Used.of(runs, known)), last + 1, runs.first[last])
        factor = np.exp(log_factor(told[1], told[2], self.strength))
        return {
            int(life): SlipEvidence(float(holes), float(slips), float(usual), float(times))
            for life, holes, slips, usual, times in zip(runs.life[last], *told, factor, strict=True)
        }


NO_LAW = SlipLaw({}, np.ones(len(AGES) + 1), 0.0)
"""Where nothing was learned."""


def learned(runs: SlipRuns, known: Posterior) -> SlipLaw:
    """What a log tells of slips: nothing where there are few breaks.

    b is the most likely by which of the taps at work broke, run by run, each weighed by its hazard; the level of the
    hazard is left free (a partial likelihood with the cumulative hazard as its clock).

    Parameters
    ----------
    runs     of as many lives as there are
    known    the laws of breaks

    References
    ----------
    D. R. Cox, Partial likelihood, Biometrika 62 (1975) 269-276
    """
    if runs.broke.sum() < FEWEST_BREAKS or not np.nansum(runs.slips) > 0:
        return NO_LAW
    used = _Used.of(runs, known)
    rates, by_age = _usual(runs, used)
    usual = SlipLaw(rates, by_age, 0.0)
    told = recent(usual.told(runs, used), np.arange(len(runs.life)), runs.first)
    return SlipLaw(rates, by_age, _strength(told[1], told[2], used.hazard, runs.broke))


def _strength(slips: FloatArray, usual: FloatArray, hazard: FloatArray, broke: BoolArray) -> float:
    """The most likely b; `scipy.optimize.elementwise.find_minimum` takes twice as long."""

    def less_likely(b: float) -> float:
        log = log_factor(slips, usual, b)
        total = np.log((hazard * np.exp(log)).sum())
        return float(broke.sum() * total - log[broke].sum() + b / STRENGTH_MEAN)

    if not hazard.sum() > 0:
        return 0.0
    found = minimize_scalar(less_likely, bounds=(0.0, MOST_STRENGTH), method="bounded", options={"xatol": 1e-3})
    return float(found.x) if found.fun < less_likely(0.0) else 0.0


def _usual(runs: SlipRuns, used: _Used) -> tuple[dict[_Kind, float], FloatArray]:
    """Slips per hole of each tap type in each material, and the factors of ages on them; found in turns."""
    tells = ~np.isnan(runs.slips)
    slips = np.where(tells, runs.slips, 0.0)
    ages = used.at_ages
    by_age = np.ones(len(AGES) + 1)
    rates: dict[_Kind, float] = {}
    for _ in range(_ROUNDS):
        rates = _rates_of(runs, slips, np.where(tells, runs.holes * (ages @ by_age), 0.0))
        expected = (_rates(rates, runs) * np.where(tells, runs.holes, 0.0))[:, None] * ages
        # Where in its ages a run slipped is not known: as is expected of them.
        share = expected * by_age
        whole = share.sum(axis=1, keepdims=True)
        share = np.where(whole > 0, share / np.where(whole > 0, whole, 1.0), 0.0)
        by_age = (share.T @ slips + LEAN_SLIPS) / (expected.sum(axis=0) + LEAN_SLIPS)
    return rates, by_age


def _rates_of(runs: SlipRuns, slips: FloatArray, holes: FloatArray) -> dict[_Kind, float]:
    """Slips per hole of all taps, of those in each material, and of each type in it; each leaning on the one before."""
    rates: dict[_Kind, float] = {}
    for level in range(3):
        kinds = [_kinds(one)[level] for one in runs.conditions]
        above = {_kinds(one)[level]: _kinds(one)[max(level - 1, 0)] for one in runs.conditions}
        number = {kind: i for i, kind in enumerate(above)}
        place = np.array([number[kind] for kind in kinds], np.int64)[runs.condition]
        s, n = (np.bincount(place, one, len(number)) for one in (slips, holes))
        lean = np.array([rates.get(one, 0.0) for one in above.values()])
        rates |= dict(zip(above, map(float, (s + LEAN_HOLES * lean) / (n + LEAN_HOLES)), strict=True))
    return rates


def _rates(rates: Mapping[_Kind, float], runs: SlipRuns) -> FloatArray:
    """Slips per hole of each run, shape (n,); of a type that was not seen there as in its material, or as of all."""
    each = [next((rates[kind] for kind in reversed(_kinds(one)) if kind in rates), 0.0) for one in runs.conditions]
    return np.array(each, float)[runs.condition]


def _kinds(condition: Condition) -> tuple[_Kind, _Kind, _Kind]:
    return ("", ""), ("", condition.material), (condition.family, condition.material)
