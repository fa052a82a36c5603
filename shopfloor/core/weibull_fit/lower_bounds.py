"""One-sided bounds where there are too few failures for a fit.

For a given shape the survived ages, raised to it, act as a total time on test: with r failures the scale is at least
(sum of (exit^shape - entry^shape) / q)^(1 / shape), where 2 q is the chi-square quantile with 2 r + 2 degrees of
freedom (Weibayes). The shape is unknown, so each bound is the most conservative over shapes from 1 (random failures)
to 4 (steep wear-out).

References: W. Nelson, Weibull analysis of reliability data with few or no failures, J. Quality Technology 17 (1985)
140-146; R. B. Abernethy, The New Weibull Handbook, chapter 6. The range of shapes: common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammaincinv

from shopfloor.core.survival.censored_data import Evidence, FloatArray, Lives
from shopfloor.core.survival.estimates import (
    SCALE_SHARE,
    Band,
    Estimand,
    Estimate,
    Estimates,
    log_cumulative_hazard,
    log_life,
    log_next_risk,
)
from shopfloor.core.survival.weibull import bounded_exp, checked_ages
from shopfloor.core.weibull_fit.likelihood import Likelihood

CAUTIOUS_SHAPES = np.linspace(1.0, 4.0, 61)


def weibayes_scale_lower(lives: Lives, shape: float, level: float) -> float:
    """One-sided lower confidence bound of the scale, for a known shape and any number of failures.

    Parameters
    ----------
    lives : Lives     an interval failure counts as survived up to its lower end
    shape : float     above 0
    level : float     one-sided confidence level, between 0 and 1

    Returns
    -------
    float             in the unit of the lives; 0 where nothing was survived

    References
    ----------
    Weibayes: Nelson 1985; Abernethy, chapter 6
    """
    likelihood = Likelihood(lives)
    log_bound = (likelihood.log_exposure(np.array([shape])) - _log_most(likelihood, level)) / shape
    return float(likelihood.unit * np.exp(log_bound[0]))


@dataclass(frozen=True, eq=False)
class NotEnoughData:
    """No usable fit: the reason, what would be enough, and the bounds that hold nevertheless.

    It has the methods of a `WeibullFit`, with `value` None and one end of each interval open.

    Attributes
    ----------
    evidence : Evidence          taps, failures, holes
    reason, enough : str         why there is no fit, and what data would allow one
    level : float                one-sided confidence level of the bounds
    """

    evidence: Evidence
    reason: str
    enough: str
    level: float
    likelihood: Likelihood = field(repr=False)
    method: str = "weibayes"

    @property
    def sure(self) -> bool:
        """False: there is no fitted distribution."""
        return False

    @property
    def shape_interval(self) -> tuple[float, float]:
        """Unbounded on both sides."""
        return 0.0, math.inf

    @property
    def scale_interval(self) -> tuple[float, float]:
        """Lower confidence bound of the scale, open above."""
        return self.life_interval(SCALE_SHARE)

    def life(self, p: float) -> float | None:
        """None: the quantile at `p` has a lower bound only."""
        return None

    def life_interval(self, p: float) -> tuple[float, float]:
        """Lower confidence bound of the age by which the share `p` has failed, open above."""
        low = self._over_shapes(log_life(np.array([p]))).min()
        return self.likelihood.unit * math.exp(low), math.inf

    def survival_band(self, ages: ArrayLike) -> Band:
        """Lower confidence bound of the survival at each age (shape (m,))."""
        ages_ = np.atleast_1d(checked_ages("ages", ages))
        log_ages = np.log(np.maximum(ages_, 1e-300)) - math.log(self.likelihood.unit)
        hazard = bounded_exp(self._over_shapes(log_cumulative_hazard(log_ages)).max(axis=1))
        return Band(ages_, None, np.where(ages_ > 0, np.exp(-hazard), 1.0), np.ones(ages_.shape), self.level)

    def risk(self, age: float, next_holes: float) -> Estimate:
        """Upper confidence bound of the probability that a tap of this age fails within the next holes."""
        return self.risks(age, next_holes).one()

    def risks(self, ages: ArrayLike, next_holes: ArrayLike) -> Estimates:
        """As `risk`, for arrays that broadcast."""
        a, n = np.broadcast_arrays(checked_ages("age", ages), checked_ages("next", next_holes))
        some = (a + n > a).ravel()
        upper = np.zeros(a.size)
        estimand = log_next_risk(a.ravel()[some], n.ravel()[some], self.likelihood.unit)
        upper[some] = -np.expm1(-bounded_exp(self._over_shapes(estimand).max(axis=1)))
        return Estimates(None, np.zeros(a.shape), upper.reshape(a.shape), self.level)

    def _over_shapes(self, estimand: Estimand) -> FloatArray:
        """Each estimand with the scale at its bound, for each shape: shape (k, shapes)."""
        c = _log_most(self.likelihood, self.level) - self.likelihood.log_exposure(CAUTIOUS_SHAPES)
        return estimand(CAUTIOUS_SHAPES[None, :], c[None, :])


def _log_most(likelihood: Likelihood, level: float) -> float:
    """log of the upper confidence bound of the expected number of failures."""
    return math.log(float(gammaincinv(likelihood.failures + 1, level)))
