"""The share of taps still good at each age, without assuming any law: step curves with their band.

Product-limit where all failures are exact; Turnbull's estimate where some are known to an interval only. Both count a
tap as at risk at t when entry < t <= exit, and a failure before a survivor at the same age.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from shopfloor.core.errors import InputError
from shopfloor.core.intervals import DEFAULT_LEVEL, checked_level
from shopfloor.core.observations import Evidence, FloatArray, Lives


@dataclass(frozen=True, eq=False)
class SurvivalCurve:
    """A step curve: survival is 1 from age 0 and falls to `survival[i]` at `ages[i]`.

    Attributes
    ----------
    ages, survival, lower, upper, at_risk : shape (k,)    one entry for each fall; band pointwise at `level`
    last_age : float     age to which any tap was followed; beyond it nothing is known
    method : str         'product-limit' or 'Turnbull'
    """

    ages: FloatArray
    survival: FloatArray
    lower: FloatArray
    upper: FloatArray
    at_risk: FloatArray
    last_age: float
    level: float
    method: str
    evidence: Evidence


@dataclass(frozen=True, eq=False)
class Incidence:
    """Share of taps that have failed by each mode, with the share still good, at the ages of failures."""

    ages: FloatArray
    by_mode: dict[str, FloatArray]
    survival: FloatArray
    at_risk: FloatArray


def survival_curve(lives: Lives, level: float = DEFAULT_LEVEL) -> SurvivalCurve:
    """Which share of taps is still good at each age.

    Parameters
    ----------
    lives : Lives       any mix; an interval makes it a Turnbull estimate
    level : float       of the pointwise band (log-log, so it stays within 0..1)

    Returns
    -------
    SurvivalCurve       empty arrays where nothing has failed

    Notes
    -----
    The Turnbull curve falls at the end of each interval in which its likelihood puts failures; inside it the fall is
    not determined. Its band uses Greenwood's formula with expected numbers, so it is a little too narrow.
    With left truncation an early age at which all of few taps at risk failed takes the whole curve to 0.

    References
    ----------
    E. L. Kaplan & P. Meier, J. Amer. Statist. Assoc. 53 (1958) 457-481; J. P. Klein & M. L. Moeschberger, Survival
    Analysis, 2nd ed. 2003, equations 4.2.2 and 4.3.2 and section 4.6; B. W. Turnbull, The empirical distribution
    function with arbitrarily grouped, censored and truncated data, J. Roy. Statist. Soc. B 38 (1976) 290-295
    """
    checked_level(level)
    exact = not np.any(lives.is_failure & ~lives.is_exact)
    ages, failed, at_risk, survival = _product_limit(lives) if exact else _turnbull(lives)
    lower, upper = _band(survival, failed, at_risk, level)
    last = np.where(lives.is_failure, lives.upper, lives.lower).max(initial=0.0)
    method = "product-limit" if exact else "Turnbull"
    return SurvivalCurve(ages, survival, lower, upper, at_risk, float(last), level, method, lives.evidence)


def cumulative_incidence(lives: Lives) -> Incidence:
    """Which share of taps has failed by each mode at each age, the modes competing.

    Parameters
    ----------
    lives : Lives     failures exact, each with its mode

    Raises
    ------
    InputError        a failure known to an interval only

    References
    ----------
    O. O. Aalen & S. Johansen, Scand. J. Statist. 5 (1978) 141-150; Klein & Moeschberger 2003, equation 4.7.1
    """
    if np.any(lives.is_failure & ~lives.is_exact):
        raise InputError.of("lives", "some failures are known to an interval only", "give exact failures")
    ages, _, at_risk, survival = _product_limit(lives)
    before = np.concatenate([np.ones(min(1, len(ages))), survival[:-1]])
    by_mode = {mode: np.cumsum(before * _failed_at(lives.of_mode(mode), ages) / at_risk) for mode in lives.modes()}
    return Incidence(ages, by_mode, survival, at_risk)


Steps = tuple[FloatArray, FloatArray, FloatArray, FloatArray]


def _product_limit(lives: Lives) -> Steps:
    """Ages of failures, numbers failed and at risk, survival just after."""
    ages = np.unique(lives.upper[lives.is_failure])
    failed = _failed_at(lives, ages)
    at_risk = _weight_from(lives.lower, lives.count, ages) - _weight_from(lives.entry, lives.count, ages)
    return ages, failed, at_risk, np.asarray(np.cumprod(1 - failed / at_risk))


def _failed_at(lives: Lives, ages: FloatArray) -> FloatArray:
    """Number of exact failures at each of the sorted ages."""
    failures = lives.is_failure
    place = np.searchsorted(ages, lives.upper[failures])
    return np.bincount(place, lives.count[failures], minlength=len(ages)).astype(float)


def _weight_from(values: FloatArray, weight: FloatArray, ages: FloatArray) -> FloatArray:
    """Total weight of the values at or after each age."""
    order = np.argsort(values)
    before = np.concatenate([[0.0], np.cumsum(weight[order])])
    return np.asarray(before[-1] - before[np.searchsorted(values[order], ages)])


def _band(survival: FloatArray, failed: FloatArray, at_risk: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    """Greenwood's variance on the log(-log) scale; from 0 to the last upper end where practically nobody is left."""
    inside = (survival > 0) & (survival < 1) & (at_risk - failed > NOBODY)
    safe = np.where(inside, survival, 0.5)
    pairs = np.where(inside, at_risk * (at_risk - failed), 1.0)
    spread = np.sqrt(np.cumsum(np.where(inside, failed, 0.0) / pairs))
    factor = np.exp(np.minimum(ndtri((1 + level) / 2) * spread / -np.log(safe), 600.0))
    lower = np.where(inside, safe**factor, np.where(survival < 1, 0.0, 1.0))
    upper = np.where(inside, safe ** (1 / factor), 1.0)
    return lower, np.where(inside, upper, np.minimum.accumulate(upper) if len(upper) else upper)


NOBODY = 1e-6
"""Expected taps left below which Greenwood's formula says nothing any more (Turnbull's steps leave such crumbs)."""
EM_STEPS = 5000
EM_DONE = 1e-9
NO_MASS = 1e-6
"""A cell that EM leaves with less than this holds no failures."""


@dataclass(frozen=True, eq=False)
class _Cells:
    """The age axis cut at every age that occurs: life i ended in one of the cells first..last, seen from `seen` on."""

    ends: FloatArray
    first: NDArray[np.intp]
    last: NDArray[np.intp]
    seen: NDArray[np.intp]
    weight: FloatArray

    @classmethod
    def of(cls, lives: Lives) -> _Cells:
        """A cut is twice the rank of an age, plus 1 if just after it, so that an exact age has a cell of its own."""
        ages = np.unique(np.concatenate([lives.lower, lives.upper, lives.entry, [0.0, np.inf]]))
        low, high, entry = 2 * np.searchsorted(ages, np.stack([lives.lower, lives.upper, lives.entry])) + 1
        low = np.where(lives.is_exact, low - 1, low)
        cuts = np.unique(np.concatenate([low, high, entry]))
        places = [np.searchsorted(cuts, column) for column in (low, high, entry)]
        return cls(ages[cuts[1:] // 2], places[0], places[1] - 1, places[2], lives.count)

    def sum_over_lives(self, share: FloatArray) -> FloatArray:
        """In each cell, the total share of the lives that may have ended there."""
        n = len(self.ends) + 1
        return np.asarray(np.cumsum(np.bincount(self.first, share, n) - np.bincount(self.last + 1, share, n))[:-1])

    def ended(self, chance: FloatArray, weight: FloatArray) -> FloatArray:
        """Expected number of the lives, weighted, that ended in each cell."""
        total = np.concatenate([[0.0], np.cumsum(chance)])
        return chance * self.sum_over_lives(weight / np.maximum(total[self.last + 1] - total[self.first], 1e-300))

    def after(self, place: NDArray[np.intp], weight: FloatArray) -> FloatArray:
        """In each cell, the weight of the lives whose place lies after it."""
        return np.asarray(weight.sum() - np.cumsum(np.bincount(place, weight, len(self.ends) + 1))[:-1])


def _turnbull(lives: Lives) -> Steps:
    """Ages at which the self-consistent curve falls, expected numbers failed and at risk, survival just after."""
    cells = _Cells.of(lives)
    chance = (cells.sum_over_lives(cells.weight) > 0) / len(cells.ends)
    for _ in range(EM_STEPS):
        before, chance = chance, _consistent(cells, chance)
        if np.abs(chance - before).max() < EM_DONE:
            break
    failures, survivors = np.where(lives.is_failure, lives.count, 0.0), np.where(lives.is_failure, 0.0, lives.count)
    failed = cells.ended(chance, failures)
    at_risk = (
        np.cumsum(failed[::-1])[::-1] + cells.after(cells.first, survivors) - cells.after(cells.seen, cells.weight)
    )
    survival = 1 - np.cumsum(chance)
    falls = (chance > NO_MASS) & np.isfinite(cells.ends)
    return cells.ends[falls], failed[falls], at_risk[falls], np.where(survival < NO_MASS, 0.0, survival)[falls]


def _consistent(cells: _Cells, chance: FloatArray) -> FloatArray:
    """One EM step. Taps that failed before anybody would have seen them are added in their expected number."""
    chance_seen = np.maximum(np.cumsum(chance[::-1])[::-1][cells.seen], 1e-300)
    lives = cells.ended(chance, cells.weight) + chance * cells.after(cells.seen, cells.weight / chance_seen)
    return np.asarray(lives / lives.sum())
