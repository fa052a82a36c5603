"""Non-parametric survival curves with their pointwise band.

Product-limit (Kaplan-Meier) where all failures are exact; Turnbull's estimate where some are interval failures. In both
a tap is at risk at t when entry < t <= exit, and a failure precedes a survivor at the same age.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from shopfloor.core.phrases import phrase
from shopfloor.core.survival.censored_data import Evidence, FloatArray, Lives
from shopfloor.core.survival.estimates import DEFAULT_LEVEL, checked_level
from shopfloor.core.survival.turnbull import turnbull


@dataclass(frozen=True, eq=False)
class SurvivalCurve:
    """A step curve: survival is 1 from age 0 and drops to `survival[i]` at `ages[i]`.

    Attributes
    ----------
    ages, survival, lower, upper, at_risk : shape (k,)    one entry for each step; pointwise band at `level`
    last_age : float     largest age observed; beyond it nothing is known
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


def survival_curve(lives: Lives, level: float = DEFAULT_LEVEL) -> SurvivalCurve:
    """Estimate the survival curve.

    Parameters
    ----------
    lives : Lives       any mix; an interval failure makes it a Turnbull estimate
    level : float       confidence level of the pointwise band (log-log, so it stays within 0..1)

    Returns
    -------
    SurvivalCurve       empty arrays where nothing has failed

    Notes
    -----
    The Turnbull curve steps down at the end of each interval with positive mass; inside it the curve is not determined.
    Its band uses Greenwood's formula with expected numbers, so it is slightly too narrow. With left truncation an early
    age at which all of few taps at risk failed takes the whole curve to 0.

    References
    ----------
    E. L. Kaplan & P. Meier, J. Amer. Statist. Assoc. 53 (1958) 457-481; J. P. Klein & M. L. Moeschberger, Survival
    Analysis, 2nd ed. 2003, equations 4.2.2 and 4.3.2 and section 4.6; B. W. Turnbull, The empirical distribution
    function with arbitrarily grouped, censored and truncated data, J. Roy. Statist. Soc. B 38 (1976) 290-295
    """
    checked_level(level)
    exact = not np.any(lives.is_failure & ~lives.is_exact)
    ages, failed, at_risk, survival = product_limit(lives) if exact else _turnbull(lives)
    lower, upper = _band(survival, failed, at_risk, level)
    last = np.where(lives.is_failure, lives.upper, lives.lower).max(initial=0.0)
    method = phrase("product-limit") if exact else "Turnbull"
    return SurvivalCurve(ages, survival, lower, upper, at_risk, float(last), level, method, lives.evidence)


def product_limit(lives: Lives) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Ages of failures, numbers failed and at risk, survival just after."""
    ages = np.unique(lives.upper[lives.is_failure])
    failed = failed_at(lives, ages)
    at_risk = at_risk_at(lives, ages)
    return ages, failed, at_risk, np.asarray(np.cumprod(1 - failed / at_risk))


def at_risk_at(lives: Lives, ages: FloatArray) -> FloatArray:
    """Number of lives at risk at each age: entry < age <= exit."""
    return _weight_from(lives.lower, lives.count, ages) - _weight_from(lives.entry, lives.count, ages)


def failed_at(lives: Lives, ages: FloatArray) -> FloatArray:
    """Number of exact failures at each of the sorted ages."""
    failures = lives.is_failure
    place = np.searchsorted(ages, lives.upper[failures])
    return np.bincount(place, lives.count[failures], minlength=len(ages)).astype(float)


def _weight_from(values: FloatArray, weight: FloatArray, ages: FloatArray) -> FloatArray:
    """Total weight of the values at or after each age."""
    order = np.argsort(values)
    before = np.concatenate([[0.0], np.cumsum(weight[order])])
    return np.asarray(before[-1] - before[np.searchsorted(values[order], ages)])


NOBODY = 1e-6
"""Expected taps at risk below which Greenwood's formula is meaningless (Turnbull's estimate leaves some)."""


def _band(survival: FloatArray, failed: FloatArray, at_risk: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    """Greenwood's variance on the log(-log) scale; from 0 to the last upper bound where hardly any are at risk."""
    inside = (survival > 0) & (survival < 1) & (at_risk - failed > NOBODY)
    safe = np.where(inside, survival, 0.5)
    pairs = np.where(inside, at_risk * (at_risk - failed), 1.0)
    spread = np.sqrt(np.cumsum(np.where(inside, failed, 0.0) / pairs))
    factor = np.exp(np.minimum(ndtri((1 + level) / 2) * spread / -np.log(safe), 600.0))
    lower = np.where(inside, safe**factor, np.where(survival < 1, 0.0, 1.0))
    upper = np.where(inside, safe ** (1 / factor), 1.0)
    return lower, np.where(inside, upper, np.minimum.accumulate(upper) if len(upper) else upper)


def _turnbull(lives: Lives) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    steps = turnbull(lives)
    return steps.ages, steps.failed[0], steps.at_risk, steps.survival
