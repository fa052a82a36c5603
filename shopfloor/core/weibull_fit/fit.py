"""Weibull fits to tap lives, with the reason where the data do not suffice.

The likelihood is maximised over c for each shape (concave, so exact): first on a coarse grid of shapes, which shows
whether a maximum exists at all, then by safeguarded Newton steps in log shape; for calibrated intervals once more with
the small-sample bias of the shape removed (`shopfloor.core.weibull_fit.small_sample`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from shopfloor.core.errors import InputError, NotConverged
from shopfloor.core.phrases import rounded
from shopfloor.core.survival.censored_data import Evidence, Lives
from shopfloor.core.survival.estimates import (
    DEFAULT_LEVEL,
    SCALE_SHARE,
    Band,
    Estimate,
    Estimates,
    checked_level,
    log_cumulative_hazard,
    log_life,
    log_next_risk,
)
from shopfloor.core.survival.weibull import Weibull, bounded_exp, checked_ages
from shopfloor.core.weibull_fit.competing_risks import LogParameters
from shopfloor.core.weibull_fit.competing_risks_fit import joint_estimates, mode_likelihood
from shopfloor.core.weibull_fit.likelihood import Likelihood
from shopfloor.core.weibull_fit.likelihood_region import AS_GOOD_AS_OPEN, Region
from shopfloor.core.weibull_fit.lower_bounds import NotEnoughData
from shopfloor.core.weibull_fit.maximise import NOT_SETTLED, NoMaximum, find_maximum
from shopfloor.core.weibull_fit.small_sample import DEFAULT_METHOD, adjustment_for

SAME_LOGS = 1e-4
"""Parameters whose logs differ by less are the same."""


@dataclass(frozen=True, eq=False)
class WeibullFit:
    """A fitted Weibull distribution with its evidence; intervals are computed on demand.

    Attributes
    ----------
    weibull : Weibull            the distribution to use: with calibrated intervals its shape has no small-sample bias
    most_likely : Weibull        the maximum-likelihood estimate; the same with profile intervals
    log_likelihood : float       at the maximum-likelihood estimate, on the scale of the ages, counts included; an
                                 interval failure adds the log of its probability
    level, method                of every interval, two-sided: 'calibrated' or 'profile'
    evidence : Evidence          taps, failures, holes
    """

    weibull: Weibull
    most_likely: Weibull
    log_likelihood: float
    level: float
    method: str
    evidence: Evidence
    region: Region = field(repr=False)

    @property
    def sure(self) -> bool:
        """True: there is a fitted distribution (its intervals say how well it is known)."""
        return True

    @property
    def shape_interval(self) -> tuple[float, float]:
        """Interval of the shape; 0 and infinity are open ends."""
        return self.region.shape_interval

    @cached_property
    def scale_interval(self) -> tuple[float, float]:
        """Interval of the scale; 0 and infinity are open ends."""
        return self.life_interval(SCALE_SHARE)

    def life(self, p: float) -> float:
        """Age by which the share `p` (0 < p < 1) has failed."""
        return float(self.weibull.quantile(p))

    def life_interval(self, p: float) -> tuple[float, float]:
        """Interval of the age by which the share `p` has failed; 0 and infinity are open ends."""
        if not 0 < p < 1:
            raise InputError.of("p", f"{rounded(p)} is not a share of lives", "give a number between 0 and 1")
        low, high, low_shape, high_shape = (float(end[0]) for end in self.region.range(log_life(np.array([p]))))
        log_unit = math.log(self.region.likelihood.unit)
        return self._end(low + log_unit, low_shape, 0.0), self._end(high + log_unit, high_shape, math.inf)

    def survival_band(self, ages: ArrayLike) -> Band:
        """Survival at each age (holes, shape (m,)) with its pointwise interval."""
        ages_ = np.atleast_1d(checked_ages("ages", ages))
        log_ages = np.log(np.maximum(ages_, 1e-300)) - math.log(self.region.likelihood.unit)
        low, high, _, _ = self.region.range(log_cumulative_hazard(log_ages))
        lower, upper = (np.where(ages_ > 0, np.exp(-bounded_exp(end)), 1.0) for end in (high, low))
        return Band(ages_, self.weibull.survival(ages_), lower, upper, self.level)

    def risk(self, age: float, next_holes: float) -> Estimate:
        """Chance that a tap of this age (holes) fails within the next holes, with its interval."""
        return self.risks(age, next_holes).one()

    def risks(self, ages: ArrayLike, next_holes: ArrayLike) -> Estimates:
        """The same for many taps at once; arrays that broadcast."""
        a, n = np.broadcast_arrays(checked_ages("age", ages), checked_ages("next", next_holes))
        some = (a + n > a).ravel()
        lower, upper = np.zeros(a.size), np.zeros(a.size)
        estimand = log_next_risk(a.ravel()[some], n.ravel()[some], self.region.likelihood.unit)
        if some.any():
            low, high, _, _ = self.region.range(estimand)
            lower[some], upper[some] = -np.expm1(-bounded_exp(low)), -np.expm1(-bounded_exp(high))
        value = np.asarray(self.weibull.chance_of_failing(a, n))
        return Estimates(value, lower.reshape(a.shape), upper.reshape(a.shape), self.level)

    def _end(self, log_age: float, shape: float, open_end: float) -> float:
        """An end of a life's interval; open where the shape may approach 0 there, or the age exceeds a double."""
        is_open = shape < AS_GOOD_AS_OPEN or abs(log_age) > 700
        return open_end if is_open else math.exp(log_age)


LifeResult = WeibullFit | NotEnoughData
"""Result of a fit. Both have: evidence, level, method, sure, life, life_interval, shape_interval, scale_interval,
survival_band, risk, risks."""


def fit_weibull(lives: Lives, level: float = DEFAULT_LEVEL, interval: str = DEFAULT_METHOD) -> LifeResult:
    """Fit a Weibull distribution by maximum likelihood.

    Parameters
    ----------
    lives : Lives       any mix of exact, interval- and right-censored, left-truncated lives
    level : float       confidence level of the intervals, between 0 and 1
    interval : str      'calibrated': holds its level even with few failures, and the small-sample bias of the shape is
                        removed; 'profile': the maximum-likelihood estimate with its profile-likelihood intervals

    Returns
    -------
    WeibullFit, or NotEnoughData where there are no failures (calibrated: fewer than two) or the likelihood has no
    maximum

    Raises
    ------
    InputError          level or interval is not valid
    NotConverged        the search did not converge (not known to happen)

    References
    ----------
    J. F. Lawless, Statistical Models and Methods for Lifetime Data, 2nd ed. 2003, section 5.2; for the calibrated
    intervals see `shopfloor.core.weibull_fit.small_sample`
    """
    checked_level(level)
    return _fitted(Likelihood(lives), lives.evidence, level, interval)


def _fitted(likelihood: Likelihood, evidence: Evidence, level: float, interval: str) -> LifeResult:
    """The maximum-likelihood fit, or the reason why there is none."""
    adjustment = adjustment_for(interval)
    found = find_maximum(likelihood, adjustment)
    if isinstance(found, NoMaximum):
        return NotEnoughData(evidence, found.reason, found.enough, level, likelihood)
    most_likely, adjusted = found
    maximum = likelihood.value(*adjusted) - float(adjustment.value(np.array(adjusted[0])))
    region = Region(likelihood, *adjusted, maximum, level, adjustment)
    distributions = likelihood.weibull(*adjusted), likelihood.weibull(*most_likely)
    return WeibullFit(*distributions, likelihood.value(*most_likely), level, interval, evidence, region)


def fit_modes(
    lives: Lives, level: float = DEFAULT_LEVEL, interval: str = DEFAULT_METHOD, modes: Sequence[str] | None = None
) -> dict[str, LifeResult]:
    """Fit each mode of failure, the modes being competing risks.

    Failures at known ages make modes independent: each is fitted with failures by other modes as censored. Within a
    failure interval they are not (`shopfloor.core.weibull_fit.competing_risks`); then the estimates maximise the
    likelihood of all modes jointly. The intervals of each mode are conditional on the estimates of the others, so they
    omit the uncertainty of the others: a second-order effect, as it enters only through the part of an interval that
    was survived. A mode without a maximum is treated as absent within intervals.

    Parameters
    ----------
    lives : Lives                any mix, each failure with its mode
    level : float                confidence level of the intervals, between 0 and 1
    interval : str               'calibrated' or 'profile', as in `fit_weibull`
    modes : sequence of text     modes to fit; those that occur where left out

    Returns
    -------
    dict                         the result of each mode, as of `fit_weibull`

    Raises
    ------
    InputError                   level or interval is not valid

    References
    ----------
    W. Q. Meeker & L. A. Escobar, Statistical Methods for Reliability Data, 1998, section 15.4
    """
    checked_level(level)
    wanted = lives.modes() if modes is None else modes
    try:
        joint = joint_estimates(lives)
    except NotConverged:
        return {mode: _not_settled(lives.of_mode(mode), level) for mode in wanted}
    likelihoods = {mode: mode_likelihood(lives, mode, joint) for mode in wanted}
    fits = {mode: _fitted(one, lives.of_mode(mode).evidence, level, interval) for mode, one in likelihoods.items()}
    return {
        mode: fit if _is_joint_maximum(fit, joint.get(mode)) else _not_settled(lives.of_mode(mode), level)
        for mode, fit in fits.items()
    }


def _is_joint_maximum(fit: LifeResult, estimate: LogParameters | None) -> bool:
    """Whether a fit agrees with the joint estimate of all competing risks: another maximum may lie nearby."""
    if estimate is None or not isinstance(fit, WeibullFit):
        return True
    found = math.log(fit.most_likely.shape), math.log(fit.most_likely.scale)
    return max(abs(one - float(other)) for one, other in zip(found, estimate, strict=True)) < SAME_LOGS


def _not_settled(lives: Lives, level: float) -> LifeResult:
    return NotEnoughData(lives.evidence, NOT_SETTLED.reason, NOT_SETTLED.enough, level, Likelihood(lives))
