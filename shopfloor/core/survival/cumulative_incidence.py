"""Cumulative incidence: the share of taps that have failed by each mode at each age, non-parametric.

References: O. O. Aalen & S. Johansen, Scand. J. Statist. 5 (1978) 141-150; J. P. Klein & M. L. Moeschberger, Survival
Analysis, 2nd ed. 2003, equation 4.7.1; the variance by the delta method: E. Marubini & M. G. Valsecchi, Analysing
Survival Data from Clinical Trials and Observational Studies, 1995, section 10.2.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from shopfloor.core.survival.censored_data import Evidence, FloatArray, Lives
from shopfloor.core.survival.estimates import DEFAULT_LEVEL, checked_level
from shopfloor.core.survival.survival_curve import NOBODY, failed_at, product_limit
from shopfloor.core.survival.turnbull import Steps, turnbull

HALF_A_TAP = 0.5
"""Expected failures by a mode below which its share counts as none: the delta method needs about one."""


@dataclass(frozen=True, eq=False)
class Incidence:
    """Cumulative incidence of each mode, with the survival, at the ages of failures.

    Attributes
    ----------
    ages, survival, at_risk : shape (k,)
    by_mode, lower, upper : dict of shape (k,)    cumulative incidence of each mode, pointwise band at `level`
    method : str                                  'Aalen-Johansen', or 'Turnbull' where some failures are intervals
    """

    ages: FloatArray
    by_mode: dict[str, FloatArray]
    lower: dict[str, FloatArray]
    upper: dict[str, FloatArray]
    survival: FloatArray
    at_risk: FloatArray
    level: float
    method: str
    evidence: Evidence


def cumulative_incidence(lives: Lives, level: float = DEFAULT_LEVEL) -> Incidence:
    """Estimate the cumulative incidence of each mode, the modes being competing risks.

    Parameters
    ----------
    lives : Lives       any mix, each failure with its mode
    level : float       confidence level of the pointwise bands (log-log, so they stay within 0..1)

    Returns
    -------
    Incidence           empty arrays where nothing has failed; the shares and the survival add up to 1

    Notes
    -----
    With interval failures the bands use expected numbers in place of counts, so they are slightly too narrow.

    References
    ----------
    Aalen & Johansen 1978; Klein & Moeschberger 2003, equation 4.7.1; Marubini & Valsecchi 1995, section 10.2
    """
    checked_level(level)
    modes = lives.modes() or [""]
    exact = not np.any(lives.is_failure & ~lives.is_exact)
    steps = _exact_steps(lives, modes) if exact else turnbull(lives, modes)
    before = np.concatenate([np.ones(min(1, len(steps.ages))), steps.survival[:-1]])
    shares = [np.asarray(np.cumsum(drops)) for drops in steps.drops]
    bands = [_band(steps, before, own, failed, level) for own, failed in zip(shares, steps.failed, strict=True)]
    lower, upper = ({mode: band[end] for mode, band in zip(modes, bands, strict=True)} for end in (0, 1))
    method = "Aalen-Johansen" if exact else "Turnbull"
    by_mode = dict(zip(modes, shares, strict=True))
    return Incidence(steps.ages, by_mode, lower, upper, steps.survival, steps.at_risk, level, method, lives.evidence)


def _exact_steps(lives: Lives, modes: list[str]) -> Steps:
    ages, _, at_risk, survival = product_limit(lives)
    failed = np.stack([failed_at(lives.of_mode(mode) if mode else lives, ages) for mode in modes])
    before = np.concatenate([np.ones(min(1, len(ages))), survival[:-1]])
    return Steps(ages, before * failed / at_risk, failed, at_risk, survival)


def _band(
    steps: Steps, before: FloatArray, share: FloatArray, failed: FloatArray, level: float
) -> tuple[FloatArray, FloatArray]:
    """Pointwise band by the delta method on the log(-log) scale of the share."""
    inside = (np.cumsum(failed) >= HALF_A_TAP) & (share < 1 - 1e-12)
    safe = np.where(inside, share, 0.5)
    spread = np.sqrt(np.maximum(_variance(steps, before, share, failed), 0.0)) / (safe * -np.log(safe))
    factor = np.exp(np.minimum(ndtri((1 + level) / 2) * spread, 600.0))
    # Before the first failure by this mode only the exact binomial bound of the taps at risk is known.
    none_yet = -np.expm1(np.log((1 - level) / 2) / np.maximum(steps.at_risk, 1.0))
    lower = np.maximum.accumulate(np.where(inside, safe**factor, 0.0)) if len(share) else share
    upper = np.where(inside, safe ** (1 / factor), np.where(share > 0.5, 1.0, none_yet))
    return np.minimum(lower, share), np.maximum(upper, share)


def _variance(steps: Steps, before: FloatArray, share: FloatArray, failed: FloatArray) -> FloatArray:
    """Variance of the share at each age: sums over the earlier ages, of three terms each.

    With F the share at the age in question and F_i, S_i, d_i, y_i those of an earlier one: the sum of
    (F - F_i)^2 D_i / (y_i (y_i - D_i)) + S_i^2 d_i (y_i - d_i) / y_i^3 - 2 (F - F_i) S_i d_i / y_i^2.
    """
    at_risk = np.maximum(steps.at_risk, NOBODY)
    everything = np.minimum(steps.failed.sum(axis=0), at_risk)
    left = at_risk - everything
    hazard = np.where(left > NOBODY, everything / (at_risk * np.where(left > NOBODY, left, 1.0)), 0.0)
    own = before**2 * failed * np.maximum(at_risk - failed, 0.0) / at_risk**3
    both = before * failed / at_risk**2
    rising = np.cumsum(hazard), np.cumsum(hazard * share), np.cumsum(hazard * share**2)
    squares = share**2 * rising[0] - 2 * share * rising[1] + rising[2]
    return np.asarray(squares + np.cumsum(own) - 2 * (share * np.cumsum(both) - np.cumsum(both * share)))
