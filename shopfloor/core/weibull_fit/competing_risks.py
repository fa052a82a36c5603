"""Probability of failing by one mode between two ages under competing risks, and its derivatives.

A tap that was good at age a and was found failed by mode k at age b contributes to the log-likelihood, besides its
survival of all modes up to a,

    log of the integral from a to b of h_k(t) exp(-sum over all modes of (H_j(t) - H_j(a))) dt,

which does not factor: the other modes are survived up to the unknown age of failure. Over x = log t the logarithm of
the integrand is concave, as every log hazard is linear in x. So it has a single mode, which Newton's method finds, and
decreases ever more steeply on either side: Gauss-Legendre quadrature from the mode to where the integrand is
negligible, on both sides, serves any shapes, ages and widths. Logs and distances from a preserve precision where
hazards are huge or tiny. `scipy.integrate.tanhsinh` takes 4 times as long, and gives no derivatives; root finding by
`scipy.optimize.elementwise` takes 7 to 20 times as long as the few Newton steps that suffice to place the nodes.

References: J. P. Klein & M. L. Moeschberger, Survival Analysis, 2nd ed. 2003, sections 2.7 and 3.5 (competing risks,
interval-censored lives); P. J. Davis & P. Rabinowitz, Methods of Numerical Integration, 2nd ed. 1984, section 2.7.
Concavity and derivatives: own derivation, checked by tests against direct integrals and finite differences.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.core.survival.weibull import bounded_exp, log_ratio

CUTOFF = 26.0
"""What lies below exp(-26) of the maximum contributes less than 1e-10 of the integral."""

FEW_NODES, MANY_NODES, SMOOTH = 10, 24, 4.0
"""Nodes on each side of the mode: many are accurate to 1e-9 for shapes from 0.3 to 20; few are as accurate where no
hazard grows by more than exp(4) between them, nor beyond 4. By comparison with direct integrals."""

NEWTON_STEPS = 5
"""Newton steps to the mode and to the ends. They only place the nodes, so a rough solution suffices."""

TINY = 1e-290


class LogParameters(NamedTuple):
    """Log shape and log scale of a Weibull distribution, or arrays that broadcast with the intervals."""

    log_shape: FloatArray | float
    log_scale: FloatArray | float


@dataclass(frozen=True, eq=False)
class LogDerivatives:
    """First and second derivatives by a mode's (log shape, log scale): b, m; bb, bm, mm."""

    b: FloatArray
    m: FloatArray
    bb: FloatArray
    bm: FloatArray
    mm: FloatArray


@dataclass(frozen=True, eq=False)
class Hazard:
    """Hazard of one mode between the start of an interval and nodes inside it, all of shape (..., q).

    `log_hazard` is w = shape * (log t - log scale), the log of H(t); `gained` is H(t) - H(start); `before` is
    H(start), and `run` is shape * log(t / start).
    """

    shape: FloatArray
    log_hazard: FloatArray
    gained: FloatArray
    before: FloatArray
    run: FloatArray

    def mean(self, share: FloatArray) -> Hazard:
        """At the age, as the only node, where the gain equals its mean over the nodes, weighted by `share`."""
        gained = (self.gained * share).sum(axis=-1, keepdims=True)
        last = slice(-1, None)
        log_before = self.log_hazard[..., last] - self.run[..., last]
        run = np.logaddexp(0.0, np.log(np.maximum(gained, TINY)) - log_before)
        return Hazard(
            self.shape, np.logaddexp(log_before, np.log(np.maximum(gained, TINY))), gained, self.before[..., last], run
        )

    def survived(self) -> LogDerivatives:
        """Derivatives of -(H(t) - H(start)); w(t) - w(start) = run avoids cancellation."""
        w, gained, before, run = self.log_hazard, self.gained, self.before, self.run
        by_b = gained * w + before * run
        return LogDerivatives(
            b=-by_b,
            m=self.shape * gained,
            bb=-(gained * w * (1 + w) + before * run * (1 + 2 * w - run)),
            bm=self.shape * (by_b + gained),
            mm=-(self.shape**2) * gained,
        )

    def failed(self) -> LogDerivatives:
        """Derivatives of log (t h(t)) - (H(t) - H(start))."""
        rest, w, shape = self.survived(), self.log_hazard, self.shape
        return LogDerivatives(1 + w + rest.b, rest.m - shape, w + rest.bb, rest.bm - shape, rest.mm)


@dataclass(frozen=True, eq=False)
class IntervalFailures:
    """Failures by the first of several modes within intervals; build with `IntervalFailures.of`.

    Attributes
    ----------
    value : (...)             log probability of failing so within the interval, given survival up to its start
    share : (..., q)          share of each node in that probability: distribution of the age at failure
    hazards                   of each mode at the nodes, the failing one first
    """

    value: FloatArray
    share: FloatArray
    hazards: tuple[Hazard, ...]

    @classmethod
    def of(cls, start: FloatArray, end: FloatArray, distributions: Sequence[LogParameters]) -> IntervalFailures:
        """Failures in (start, end] by the first of these modes, the others being competing risks.

        Parameters
        ----------
        start, end : shape (n,)    ages, any one unit, 0 <= start < end
        distributions              of all modes, that of the failure first; arrays that broadcast with (n,)
        """
        log_end, width = np.log(end), log_ratio(end, start)
        columns = [[np.asarray(value, float) for value in distribution] for distribution in distributions]
        shapes = [np.exp(log_shape) for log_shape, _ in columns]
        log_hazards = [shape * (log_end - m) for shape, (_, m) in zip(shapes, columns, strict=True)]
        before_end, run, log_weight = _points(shapes, log_hazards, width)
        hazards = tuple(
            _hazard(shape, log_hazard, before_end, run) for shape, log_hazard in zip(shapes, log_hazards, strict=True)
        )
        log_part = np.log(hazards[0].shape) + hazards[0].log_hazard - sum(one.gained for one in hazards) + log_weight
        largest = log_part.max(axis=-1, keepdims=True)
        part = np.exp(log_part - largest)
        whole = part.sum(axis=-1, keepdims=True)
        # Except for rounding, and hazards beyond exp(600), it is at most 0 anyway.
        return cls(np.minimum((largest + np.log(whole))[..., 0], 0.0), part / whole, hazards)

    def derivatives(self, modes: Sequence[int] | None = None) -> tuple[FloatArray, FloatArray]:
        """Gradient, shape (..., 2 k), and Hessian, shape (..., 2 k, 2 k), by log shape and log scale of some modes.

        `modes`: positions in `distributions`; all of them where left out.
        """
        wanted = range(len(self.hazards)) if modes is None else modes
        parts = [self.hazards[mode].survived() if mode else self.hazards[0].failed() for mode in wanted]
        slopes = np.stack(np.broadcast_arrays(*(slope for part in parts for slope in (part.b, part.m))), axis=-2)
        gradient = (slopes * self.share[..., None, :]).sum(axis=-1)
        away = slopes - gradient[..., None]
        hessian = np.asarray((away * self.share[..., None, :]) @ np.swapaxes(away, -1, -2))
        for i, part in enumerate(parts):
            bb, bm, mm = ((self.share * second).sum(axis=-1) for second in (part.bb, part.bm, part.mm))
            hessian[..., 2 * i, 2 * i] += bb
            hessian[..., 2 * i, 2 * i + 1] += bm
            hessian[..., 2 * i + 1, 2 * i] += bm
            hessian[..., 2 * i + 1, 2 * i + 1] += mm
        return gradient, hessian


def _hazard(shape: FloatArray, log_hazard: FloatArray, before_end: FloatArray, run: FloatArray) -> Hazard:
    """Hazard at nodes so far before the end and after the start, in log age."""
    b = shape[..., None]
    w, run = log_hazard[..., None] - b * before_end, b * run
    log_before = w - run
    return Hazard(b, w, bounded_exp(w) * -np.expm1(-run), bounded_exp(log_before), run)


def _points(
    shapes: Sequence[FloatArray], log_hazards: Sequence[FloatArray], width: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Nodes of each interval: log(end / t), log(t / start) and the log of their weights in x, shape (..., q)."""
    back = _mode(shapes, log_hazards, width)
    steepest = np.max(np.broadcast_arrays(*shapes), axis=0)
    sides = [(-1.0, _lower_reach(shapes, log_hazards, width, back)), (1.0, _upper_reach(shapes, log_hazards, back))]
    used = [(sign, length) for sign, length in sides if length.any()] or sides[:1]
    most = max(float((steepest * length).max(initial=0.0)) for _, length in used)
    lost = sum(_hazards(shapes, log_hazards, back - used[-1][1]))
    count = FEW_NODES if most <= SMOOTH and np.all(lost <= SMOOTH) else MANY_NODES
    graded = [_graded_nodes(length, steepest, sign, count) for sign, length in used]
    out = np.concatenate([points for points, _ in graded], axis=-1)
    log_weight = np.concatenate([weight for _, weight in graded], axis=-1)
    return back[..., None] - out, (width - back)[..., None] + out, log_weight


def _mode(shapes: Sequence[FloatArray], log_hazards: Sequence[FloatArray], width: FloatArray) -> FloatArray:
    """log(end / t) where the integrand is largest: sum of shape_j H_j(t) is the failing mode's shape there.

    The log of that sum is convex in x: Newton steps from where the largest term alone reaches the shape converge
    monotonically.
    """
    levels = [np.log(shape / shapes[0]) + log_hazard for shape, log_hazard in zip(shapes, log_hazards, strict=True)]
    pairs = list(zip(levels, shapes, strict=True))
    back = np.max(np.broadcast_arrays(*(level / shape for level, shape in pairs)), axis=0)
    for _ in range(NEWTON_STEPS):
        terms = [bounded_exp(level - shape * back) for level, shape in pairs]
        whole = sum(terms)
        slope = sum(shape * term for shape, term in zip(shapes, terms, strict=True))
        back = back + np.log(whole) * whole / slope
    return np.asarray(np.clip(back, 0.0, width))


def _lower_reach(
    shapes: Sequence[FloatArray], log_hazards: Sequence[FloatArray], width: FloatArray, back: FloatArray
) -> FloatArray:
    """Distance before the mode, at most to the start, where the integrand is negligible: convex, Newton from beyond."""
    hazards = _hazards(shapes, log_hazards, back)
    all_hazards = sum(hazards)
    left = (CUTOFF + all_hazards) / shapes[0]
    for _ in range(NEWTON_STEPS):
        rest = [hazard * np.exp(-shape * left) for shape, hazard in zip(shapes, hazards, strict=True)]
        over = shapes[0] * left - all_hazards + sum(rest) - CUTOFF
        left = left - over / (shapes[0] - sum(shape * one for shape, one in zip(shapes, rest, strict=True)))
    return np.asarray(np.minimum(left, width - back))


def _upper_reach(shapes: Sequence[FloatArray], log_hazards: Sequence[FloatArray], back: FloatArray) -> FloatArray:
    """Distance after the mode, at most to the end, where the integrand is negligible: the same from an upper bound.

    The bound: at the mode one risk has at least its share of the shape of the failing one, and with y = shape d
    expm1(y) > r y + A holds from y = log1p(2 A) on if r < 1/2, and from log1p(A) + 2 r on if not.
    """
    hazards = [np.maximum(hazard, TINY) for hazard in _hazards(shapes, log_hazards, back)]
    pairs = list(zip(shapes, hazards, strict=True))
    rates = [shape * hazard for shape, hazard in pairs]
    most = np.max(np.broadcast_arrays(*rates), axis=0)
    right = np.full(back.shape, np.inf)
    for (shape, hazard), rate in zip(pairs, rates, strict=True):
        depth, ratio = CUTOFF / hazard, np.minimum(shapes[0] / rate, len(shapes))
        bound = np.where(ratio < 0.5, np.log1p(2 * depth), np.log1p(depth) + 2 * ratio) / shape
        right = np.where((rate >= most) & (bound < right), bound, right)
    right = np.minimum(right, back)
    for shape, hazard in pairs:
        right = np.minimum(right, np.log1p((CUTOFF + shapes[0] * right) / hazard) / shape)
    for _ in range(NEWTON_STEPS):
        gained = [hazard * np.expm1(shape * right) for shape, hazard in pairs]
        slope = sum(shape * (gain + hazard) for gain, (shape, hazard) in zip(gained, pairs, strict=True)) - shapes[0]
        over = sum(gained) - shapes[0] * right - CUTOFF
        right = np.clip(right - np.where(slope > 0, over / np.where(slope > 0, slope, 1.0), 0.0), 0.0, back)
    return np.asarray(right)


def _hazards(shapes: Sequence[FloatArray], log_hazards: Sequence[FloatArray], back: FloatArray) -> list[FloatArray]:
    return [bounded_exp(log_hazard - shape * back) for shape, log_hazard in zip(shapes, log_hazards, strict=True)]


def _graded_nodes(length: FloatArray, steepest: FloatArray, sign: float, count: int) -> tuple[FloatArray, FloatArray]:
    """Nodes on one side of the mode, by their distance from it, and the log of their weights.

    The steeper a hazard, the sharper the curvature that it causes, all at the later end: nodes are denser there.
    """
    even, weight = _gauss_legendre(count)
    grade = np.maximum(np.log1p(length * steepest / 2), 1e-6)[..., None]
    from_late = even if sign < 0 else 1 - even
    growth = np.exp(grade * from_late)
    share = np.expm1(grade * from_late) / np.expm1(grade)
    out = length[..., None] * (share if sign < 0 else 1 - share)
    dense = weight * growth * grade / np.expm1(grade)
    return sign * out, np.log(dense) + np.log(np.maximum(length, TINY))[..., None]


@lru_cache(maxsize=4)
def _gauss_legendre(count: int) -> tuple[FloatArray, FloatArray]:
    """Gauss-Legendre nodes and weights on (0, 1)."""
    points, weights = np.polynomial.legendre.leggauss(count)
    return (points + 1) / 2, weights / 2
