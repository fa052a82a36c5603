"""What survives a hazard, and what the likelihood of many conditions is made of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopfloor.core.observations import BoolArray, FloatArray

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


def spent(hazard: FloatArray, frailty: FloatArray) -> FloatArray:
    """A = -log of the share that survives a cumulative hazard; arrays that broadcast."""
    is_frail = frailty > 0
    safe = np.where(is_frail, frailty, 1.0)
    return np.where(is_frail, np.log1p(safe * hazard) / safe, hazard)


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
