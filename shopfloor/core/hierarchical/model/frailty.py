"""Survival with gamma frailty, and the log-likelihood of many conditions with its derivatives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopfloor.core.survival.censored_data import BoolArray, FloatArray

MOST_LOG_HAZARD = 300.0
"""exp(300) exceeds any hazard, and its square is still a double."""

LEAST_GAP, MOST_GAP = 1e-120, 600.0
"""Bounds of the hazard between two ages, beyond which a double could not tell the difference."""


@dataclass(frozen=True, eq=False)
class LogLikelihood:
    """The log-likelihood with gradient and negative Hessian by (b, m) of each of c conditions, for k parameter sets.

    Attributes
    ----------
    value : (k,)
    by_b, by_m : (k, c)            gradient
    bb, bm, mm : (k, c)            diagonal blocks of the negative Hessian, always positive semi-definite
    mixed_hessian : (k, cells)     what lives over several conditions add to it, at the cells of their likelihood
    """

    value: FloatArray
    by_b: FloatArray
    by_m: FloatArray
    bb: FloatArray
    bm: FloatArray
    mm: FloatArray
    mixed_hessian: FloatArray | None = None

    def subset(self, which: BoolArray) -> LogLikelihood:
        """That of some of the parameter sets, by mask (k,)."""
        return LogLikelihood(
            self.value[which], self.by_b[which], self.by_m[which], self.bb[which], self.bm[which], self.mm[which],
            None if self.mixed_hessian is None else self.mixed_hessian[which],
        )  # fmt: skip


def cumulative_hazard(hazard: FloatArray, frailty: FloatArray) -> FloatArray:
    """Marginal cumulative hazard A = -log S of a tap of unknown frailty: log(1 + theta H) / theta; H where theta is 0.

    Logarithms, which dominate the time taken, are computed only where there is frailty.

    Parameters
    ----------
    hazard : (s, ...)            cumulative hazard H of a tap of average frailty
    frailty : (s, 1, ...) or ()  variance theta of the gamma frailty
    """
    is_frail = frailty.reshape(-1) > 0
    if is_frail.all():
        return np.asarray(np.log1p(frailty * hazard) / frailty)
    if not is_frail.any():
        return hazard
    found, part, theta = hazard.copy(), hazard[is_frail], frailty[is_frail]
    part *= theta
    found[is_frail] = np.log1p(part, out=part) / theta
    return found


@dataclass(frozen=True, eq=False)
class CumulativeHazard:
    """A at some ages with its derivatives by w = log H, shape (k, n) each.

    Attributes
    ----------
    value            A
    first, second    its first and second derivative
    is_beyond        mask of ages past any hazard
    """

    value: FloatArray
    first: FloatArray
    second: FloatArray
    is_beyond: BoolArray

    @classmethod
    def at(cls, log_hazard: FloatArray, frailty: FloatArray) -> CumulativeHazard:
        """A at these logs of the cumulative hazard."""
        hazard = np.exp(np.minimum(log_hazard, MOST_LOG_HAZARD))
        left = 1 / (1 + frailty * hazard)
        is_beyond = log_hazard >= MOST_LOG_HAZARD
        return cls(cumulative_hazard(hazard, frailty), hazard * left, hazard * left * left, is_beyond)


def gap_and_slope(low: CumulativeHazard, up: CumulativeHazard) -> tuple[FloatArray, FloatArray]:
    """The gap A(upper) - A(lower), and the derivative of log(1 - exp(-gap)) by it, kept within what doubles can hold.

    Where both ages are beyond any hazard, practically no tap survives from one to the other.
    """
    gap = np.where(low.is_beyond, MOST_GAP, np.clip(up.value - low.value, LEAST_GAP, MOST_GAP))
    return gap, np.exp(-gap) / -np.expm1(-gap)
