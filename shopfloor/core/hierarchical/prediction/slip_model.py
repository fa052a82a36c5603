"""How strongly cutting slips predict breaks in a shop, learned from its own log.

The usual rate is that of like taps in like material that have used up as much of their life: slips become more frequent
with use in every tap, and what use says about the hazard is already in the life distributions.

Slips count in the probability of a break and, where they raise it, in when this tap is changed; never in the age
advised for its kind, nor in wear. Measured on held-out simulated taps (`tests/bench/bench_slips.py`, 2,017 taps, 859
breaks): log score 5.5 +- 1.0 in 1,000 better, Brier score 2.1 +- 0.5 % lower where slips tell of breaks; 0.09 +- 0.08
in 1,000 worse where they tell nothing. The simulator lets slips rise, so this shows that what is there is found, and
that little is lost where nothing is. A factor for each station on the usual rate gained 0.1 on one log and lost 0.5 to
1.4 in 1,000 on three, so it was left out. The interval of a risk does not include the uncertainty of the factor.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shopfloor.core.hierarchical.inference.posterior import Posterior
from shopfloor.core.hierarchical.model.conditions import Condition, IntArray
from shopfloor.core.hierarchical.prediction.slip_factor import SlipEvidence, log_factor, recent
from shopfloor.core.survival.censored_data import BoolArray, FloatArray

AGES = (0.03, 0.1, 0.2, 0.4, 0.7, 1.2)
"""Cumulative hazards that separate young from old taps: at them about 3, 10, 18, 33, 50 and 70 % of taps have failed.
Common practice, no source."""

PRIOR_HOLES, PRIOR_SLIPS = 200.0, 5.0
"""Pseudo-counts: a tap type's slip rate in a material is shrunk towards the material's with this many holes, the rate
at an age towards the overall rate with this many slips. Common practice, no source."""

STRENGTH_MEAN = 1.0
"""Mean of the exponential prior of b. Its mode is no effect, which stands until several breaks contradict it. At b = 1
a tap that is known to slip twice as often breaks twice as easily."""

FEWEST_BREAKS = 5
"""Below this many breaks nothing is learned. Common practice, no source."""

MOST_STRENGTH = 5.0
_MOST_LOG_HAZARD = 30.0
_ROUNDS = 2
_Kind = tuple[str, str]


@dataclass(frozen=True, eq=False)
class SlipRuns:
    """Runs of whole lives, life after life, each in the order of its runs.

    Attributes
    ----------
    life : (n,)               number of the life, ascending
    condition : (n,)          index into `conditions`
    conditions                conditions of the runs
    holes : (n,)              made in the run
    life_holes : (n,)         the same as lives are counted: holes, or holes of the usual depth
    before : (n,)             such holes on the tap when it was first seen, in its first run; 0 in the others
    slips : (n,)              cutting slips; NaN where not recorded or without information: the clutch ends each hole at
                              its bottom, or there is no clutch
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
        """Index of the first run of each run's life, shape (n,)."""
        places = np.arange(len(self.life))
        starts = np.concatenate([[True], self.life[1:] != self.life[:-1]])[: len(places)]
        return np.maximum.accumulate(np.where(starts, places, 0))


@dataclass(frozen=True, eq=False)
class _Used:
    """Life used up before and after each run, in characteristic lives of its condition, and the shape there: (n,)."""

    start: FloatArray
    end: FloatArray
    shape: FloatArray

    @classmethod
    def of(cls, runs: SlipRuns, known: Posterior) -> _Used:
        """From the posterior mean of each condition."""
        log_shape, log_scale = _posterior_mean(known, runs.conditions)
        by_hole = np.exp(-log_scale)[runs.condition]
        total = np.cumsum((runs.before + runs.life_holes) * by_hole)
        end = total - np.concatenate([[0.0], total])[runs.first]
        start = np.maximum(end - runs.life_holes * by_hole, 0.0)
        return cls(start, np.maximum(end, start), np.exp(log_shape)[runs.condition])

    @property
    def hazard(self) -> FloatArray:
        """Increase of the cumulative hazard in each run."""
        ends = (self.start, self.end)
        with np.errstate(divide="ignore"):
            before, after = (np.exp(np.minimum(self.shape * np.log(end), _MOST_LOG_HAZARD)) for end in ends)
        return np.asarray(after - before)

    @property
    def at_ages(self) -> FloatArray:
        """Share of each run's holes that fell between these `AGES`, shape (n, a); the shares add up to 1."""
        edges = np.array([0.0, *AGES, np.inf]) ** (1 / self.shape[:, None])
        start, end = self.start[:, None], self.end[:, None]
        within = np.clip(end, edges[:, :-1], edges[:, 1:]) - np.clip(start, edges[:, :-1], edges[:, 1:])
        width = end - start
        at_once = (edges[:, :-1] <= start) & (start < edges[:, 1:])
        return np.where(width > 0, within / np.where(width > 0, width, 1.0), at_once)


def _posterior_mean(known: Posterior, conditions: Sequence[Condition]) -> tuple[FloatArray, FloatArray]:
    """Posterior means of the log shape and log scale of each condition, shape (c,)."""
    rows = known.design.rows(conditions)
    mean = known.weight @ (known.effects @ rows.of_effects.T + rows.offset)
    return np.asarray(mean[0::2]), np.asarray(mean[1::2])


@dataclass(frozen=True, eq=False)
class SlipModel:
    """What a shop's log tells of cutting slips.

    Attributes
    ----------
    rates       usual slips per hole, by (tap type, material)
    by_age      factors on them for the age classes of `AGES`
    strength    b, the power of the slip rate in the hazard
    """

    rates: Mapping[_Kind, float]
    by_age: FloatArray
    strength: float

    @property
    def plain(self) -> dict[str, Any]:
        """The same in plain values that JSON can hold."""
        rates = [[*kind, rate] for kind, rate in self.rates.items()]
        return {"rates": rates, "by_age": self.by_age.tolist(), "strength": self.strength}

    @classmethod
    def of_plain(cls, told: dict[str, Any]) -> SlipModel:
        """The model whose `plain` values these are."""
        rates = {(family, material): rate for family, material, rate in told["rates"]}
        return cls(rates, np.array(told["by_age"], float), told["strength"])

    def counts(self, runs: SlipRuns, known: Posterior) -> FloatArray:
        """Holes, slips and usual slips of each run, shape (3, n); 0 where slips were not recorded."""
        is_recorded = ~np.isnan(runs.slips)
        usual = _rates(self.rates, runs) * runs.holes * (_Used.of(runs, known).at_ages @ self.by_age)
        return np.where(is_recorded, np.array([runs.holes, np.where(is_recorded, runs.slips, 0.0), usual]), 0.0)

    def before_each(self, runs: SlipRuns, known: Posterior) -> FloatArray:
        """Log of the hazard factor in each run, from the runs before it, shape (n,)."""
        counts = recent(self.counts(runs, known), np.arange(len(runs.life)), runs.first)
        return log_factor(counts[1], counts[2], self.strength)

    def now(self, runs: SlipRuns, known: Posterior) -> dict[int, SlipEvidence]:
        """What slips say about the coming holes of each life, by its number."""
        if not len(runs.life) or self.strength == 0:
            return {}
        last = np.append(np.flatnonzero(np.diff(runs.life)), len(runs.life) - 1)
        counts = recent(self.counts(runs, known), last + 1, runs.first[last])
        factor = np.exp(log_factor(counts[1], counts[2], self.strength))
        return {
            int(life): SlipEvidence(float(holes), float(slips), float(usual), float(times))
            for life, holes, slips, usual, times in zip(runs.life[last], *counts, factor, strict=True)
        }


NO_MODEL = SlipModel({}, np.ones(len(AGES) + 1), 0.0)
"""Where nothing was learned."""


def fit_slip_model(runs: SlipRuns, known: Posterior) -> SlipModel:
    """The slip model of a log; `NO_MODEL` where there are too few breaks.

    b maximises a partial likelihood with exponential prior: which of the taps at work broke, run by run, each weighted
    by its increase in cumulative hazard. The level of the hazard drops out.

    Parameters
    ----------
    runs     of as many lives as there are
    known    posterior of breaks

    References
    ----------
    D. R. Cox, Partial likelihood, Biometrika 62 (1975) 269-276
    """
    if runs.broke.sum() < FEWEST_BREAKS or not np.nansum(runs.slips) > 0:
        return NO_MODEL
    used = _Used.of(runs, known)
    rates, by_age = _usual(runs, used)
    usual = SlipModel(rates, by_age, 0.0)
    counts = recent(usual.counts(runs, known), np.arange(len(runs.life)), runs.first)
    return SlipModel(rates, by_age, _strength(counts[1], counts[2], used.hazard, runs.broke))


def _strength(slips: FloatArray, usual: FloatArray, hazard: FloatArray, broke: BoolArray) -> float:
    """The posterior mode of b; `scipy.optimize.elementwise.find_minimum` takes twice as long."""
    # Slow to load, and learned by the estimator alone.
    from scipy.optimize import minimize_scalar

    def negative_log_posterior(b: float) -> float:
        log = log_factor(slips, usual, b)
        total = np.log((hazard * np.exp(log)).sum())
        return float(broke.sum() * total - log[broke].sum() + b / STRENGTH_MEAN)

    if not hazard.sum() > 0:
        return 0.0
    found = minimize_scalar(
        negative_log_posterior, bounds=(0.0, MOST_STRENGTH), method="bounded", options={"xatol": 1e-3}
    )
    return float(found.x) if found.fun < negative_log_posterior(0.0) else 0.0


def _usual(runs: SlipRuns, used: _Used) -> tuple[dict[_Kind, float], FloatArray]:
    """Slips per hole of each tap type in each material, and the factors of the age classes, found alternately."""
    is_recorded = ~np.isnan(runs.slips)
    slips = np.where(is_recorded, runs.slips, 0.0)
    ages = used.at_ages
    by_age = np.ones(len(AGES) + 1)
    rates: dict[_Kind, float] = {}
    for _ in range(_ROUNDS):
        rates = _rates_of(runs, slips, np.where(is_recorded, runs.holes * (ages @ by_age), 0.0))
        expected = (_rates(rates, runs) * np.where(is_recorded, runs.holes, 0.0))[:, None] * ages
        # Where within its ages a run slipped is not known: split as expected.
        share = expected * by_age
        whole = share.sum(axis=1, keepdims=True)
        share = np.where(whole > 0, share / np.where(whole > 0, whole, 1.0), 0.0)
        by_age = (share.T @ slips + PRIOR_SLIPS) / (expected.sum(axis=0) + PRIOR_SLIPS)
    return rates, by_age


def _rates_of(runs: SlipRuns, slips: FloatArray, holes: FloatArray) -> dict[_Kind, float]:
    """Slips per hole of all taps, by material, and by type in a material, each shrunk towards the one above."""
    rates: dict[_Kind, float] = {}
    for level in range(3):
        kinds = [_kinds(one)[level] for one in runs.conditions]
        above = {_kinds(one)[level]: _kinds(one)[max(level - 1, 0)] for one in runs.conditions}
        number = {kind: i for i, kind in enumerate(above)}
        place = np.array([number[kind] for kind in kinds], np.int64)[runs.condition]
        s, n = (np.bincount(place, one, len(number)) for one in (slips, holes))
        towards = np.array([rates.get(one, 0.0) for one in above.values()])
        rates |= dict(zip(above, map(float, (s + PRIOR_HOLES * towards) / (n + PRIOR_HOLES)), strict=True))
    return rates


def _rates(rates: Mapping[_Kind, float], runs: SlipRuns) -> FloatArray:
    """Slips per hole of each run, shape (n,); an unseen tap type takes the rate of its material, else of all taps."""
    each = [next((rates[kind] for kind in reversed(_kinds(one)) if kind in rates), 0.0) for one in runs.conditions]
    return np.array(each, float)[runs.condition]


def _kinds(condition: Condition) -> tuple[_Kind, _Kind, _Kind]:
    return ("", ""), ("", condition.material), (condition.family, condition.material)
