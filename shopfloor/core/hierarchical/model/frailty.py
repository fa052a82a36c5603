"""What survives a hazard, and what the likelihood of many conditions is made of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopfloor.core.survival.censored_data import BoolArray, FloatArray

MOST_LOG_HAZARD = 300.0
"""exp(300) is beyond any hazard, and its square still is a double."""

LEAST_GAP, MOST_GAP = 1e-120, 600.0
"""Hazard between two ages: less or more of it makes no difference that a double could hold."""


@dataclass(frozen=True, eq=False)
class Terms:
    """The log-likelihood's value, shape (k,), its gradient and the negative Hessian, by (b, m) of each condition.

    `by_b`, `by_m`: shape (k, c). `bb`, `bm`, `mm`: shape (k, c), never making the whole less than positive
    semi-definite; `across`: what lives over several conditions add, at the cells of their likelihood, shape (k, cells).
    """

    value: FloatArray
    by_b: FloatArray
    by_m: FloatArray
    bb: FloatArray
    bm: FloatArray
    mm: FloatArray
    across: FloatArray | None = None

    def of_settings(self, which: BoolArray) -> Terms:
        """Those of some of the settings, shape (k,)."""
        return Terms(
            self.value[which], self.by_b[which], self.by_m[which], self.bb[which], self.bm[which], self.mm[which],
            None if self.across is None else self.across[which],
        )  # fmt: skip


def spent(hazard: FloatArray, frailty: FloatArray) -> FloatArray:
    """A = -log of the share that survives a cumulative hazard, shape (s, ...); frailty of shape (s, 1, ...), or ().

    Only where there is frailty are logarithms taken, which are what takes time here.
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
class Curve:
    """A at some ages with its first and second derivative by w = log H, which stops where any hazard does."""

    value: FloatArray
    first: FloatArray
    second: FloatArray
    is_beyond: BoolArray

    @classmethod
    def at(cls, log_hazard: FloatArray, frailty: FloatArray) -> Curve:
        """The curve at these logs of the cumulative hazard."""
        hazard = np.exp(np.minimum(log_hazard, MOST_LOG_HAZARD))
        left = 1 / (1 + frailty * hazard)
        is_beyond = log_hazard >= MOST_LOG_HAZARD
        return cls(spent(hazard, frailty), hazard * left, hazard * left * left, is_beyond)


def gap_and_rise(low: Curve, up: Curve) -> tuple[FloatArray, FloatArray]:
    """A(upper) - A(lower), and the slope by it of log(1 - exp(-gap)); within what doubles and their squares hold.

    Where both ages are beyond any hazard, practically none survives from one to the other.
    """
    gap = np.where(low.is_beyond, MOST_GAP, np.clip(up.value - low.value, LEAST_GAP, MOST_GAP))
    return gap, np.exp(-gap) / -np.expm1(-gap)
