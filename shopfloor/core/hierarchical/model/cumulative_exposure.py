"""Likelihood of lives over several conditions: each hole uses up life at the rate of its condition.

References: W. Nelson, Accelerated Testing, 1990, chapter 10 (cumulative exposure).
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from shopfloor.core.hierarchical.model.conditions import Histories, IntArray
from shopfloor.core.hierarchical.model.frailty import MOST_LOG_HAZARD, CumulativeHazard, LogLikelihood, gap_and_slope
from shopfloor.core.survival.censored_data import BoolArray, FloatArray


@dataclass(frozen=True, eq=False)
class _Lives:
    """Some lives over several conditions, as in `Histories`; `holes` are their `mixed_holes`."""

    among: IntArray
    holes: FloatArray
    count: FloatArray
    exact: BoolArray
    between: BoolArray


@dataclass(frozen=True, eq=False)
class Exposure:
    """Lives at one age each: log of the cumulative hazard H, A with its derivatives, and the gradient of log H.

    The gradient, shape (k, n, 1 + d), is by b of the last condition, then by m of each condition the life was used in.
    """

    log_hazard: FloatArray
    curve: CumulativeHazard
    gradient: FloatArray

    @classmethod
    def at(cls, holes: FloatArray, among: IntArray, b: FloatArray, m: FloatArray, theta: FloatArray) -> Exposure:
        """Exposure of lives by their holes in each condition.

        Parameters
        ----------
        holes : (n, d)    holes made in each of the conditions
        among : (n, d)    these conditions, the last one first
        b, m : (k, c)     log shape and log scale of every condition
        theta : (k, 1)    frailty variance
        """
        used = holes * np.exp(-m)[:, among]
        total = used.sum(axis=2)
        is_used = total > 0
        safe = np.where(is_used, total, 1.0)
        shape = np.exp(b)[:, among[:, 0]]
        log_hazard = np.where(is_used, shape * np.log(safe), -2 * MOST_LOG_HAZARD)
        gradient = np.concatenate([log_hazard[..., None], -(shape / safe)[..., None] * used], axis=2)
        return cls(log_hazard, CumulativeHazard.at(log_hazard, theta), gradient)


class MixedLives(ABC):
    """Lives over several conditions, indexed into the parameters: b of every condition, then m of every condition.

    `cells`: rows and columns of their part of the Hessian.
    """

    def __init__(self, among: IntArray, conditions: int) -> None:
        self._conditions = conditions
        self._parameter = np.concatenate([among[:, :1], conditions + among], axis=1)
        size = 2 * conditions
        cells = self._parameter[:, :, None] * size + self._parameter[:, None, :]
        found, self._cell = np.unique(cells.ravel(), return_inverse=True)
        self.cells = found // size, found % size

    def slope(self, gradient: FloatArray) -> FloatArray:
        """The lives' gradients, shape (k, n, 1 + d), summed by parameter: (k, 2 c)."""
        return _summed(gradient, self._parameter.ravel(), 2 * self._conditions)

    def mixed_hessian(self, outer_products: FloatArray) -> FloatArray:
        """The lives' parts of the negative Hessian, shape (k, n, 1 + d, 1 + d), summed by cell: (k, cells)."""
        return _summed(outer_products, self._cell, len(self.cells[0]))

    @abstractmethod
    def log_likelihood(
        self, b: FloatArray, m: FloatArray, theta: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Value (k,), gradient (k, 2 c), and negative Hessian at the cells (k, cells).

        Parameters
        ----------
        b, m : (k, c)     log shape and log scale of every condition
        theta : (k, 1)    frailty variance
        """


class MixedLikelihood(MixedLives):
    """Lives over several conditions; their negative Hessian is approximated as in Gauss-Newton, so it is never
    indefinite.
    """

    def __init__(self, lives: _Lives, conditions: int) -> None:
        super().__init__(lives.among, conditions)
        self._last, self._among = lives.among[:, 0], lives.among
        self._holes, self._count = lives.holes, lives.count
        self._exact, self._between = np.where(lives.exact, self._count, 0.0), lives.between

    def log_likelihood(
        self, b: FloatArray, m: FloatArray, theta: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """See `MixedLives`.

        Parameters
        ----------
        b, m : (k, c)     log shape and log scale of every condition
        theta : (k, 1)    frailty variance
        """
        low, up, entry = (Exposure.at(holes, self._among, b, m, theta) for holes in self._holes.transpose(1, 0, 2))
        n, known, last = self._count, self._exact, self._last
        gap, rise = gap_and_slope(low.curve, up.curve)
        rise = np.where(self._between, n * rise, 0.0)
        shape = np.exp(b)[:, last]
        log_rate = b[:, last] + low.log_hazard * (1 - 1 / shape) - m[:, last]
        value = n * (entry.curve.value - low.curve.value) + known * (log_rate - theta * low.curve.value)
        value = value + np.where(self._between, n * np.log(-np.expm1(-gap)), 0.0)
        pulls = (
            (entry, n * entry.curve.first),
            (low, known * (1 - 1 / shape) - (n + known * theta + rise) * low.curve.first),
            (up, rise * up.curve.first),
        )
        gradient = np.sum([pull[..., None] * point.gradient for point, pull in pulls], axis=0)
        # log h contains b and -m of the last condition, and b again within 1 / shape.
        gradient[..., 0] += known * (1 + low.log_hazard / shape)
        gradient[..., 1] -= known
        widening = up.curve.first[..., None] * up.gradient - low.curve.first[..., None] * low.gradient
        curved = outer_products(low.gradient, (n + known * theta) * low.curve.second) + outer_products(
            widening, rise * (1 + rise / n)
        )
        return value.sum(axis=1), self.slope(gradient), self.mixed_hessian(curved)


def mixed_likelihoods(
    histories: Histories, exact: BoolArray, between: BoolArray, elsewhere: BoolArray, conditions: int
) -> list[MixedLives]:
    """Likelihoods of the lives over several conditions.

    Parameters
    ----------
    histories         all lives
    exact, between    masks of the failures at a known hole and within an interval, shape (n,)
    elsewhere         mask of lives whose end another likelihood accounts for: only their entry counts here
    conditions        number of conditions c
    """
    first = len(histories.lives) - len(histories.among)
    exact, between, elsewhere, count = exact[first:], between[first:], elsewhere[first:], histories.lives.count[first:]
    holes = histories.mixed_holes.copy()
    holes[elsewhere, 0] = 0.0
    return [
        MixedLikelihood(_Lives(histories.among[which, :width], holes[which, :, :width], count[which], exact[which],
                     between[which]), conditions)
        for which, width in by_width(histories.among)
    ]  # fmt: skip


def by_width(among: IntArray) -> Iterator[tuple[BoolArray, int]]:
    """Masks of the lives over two conditions and of those over more, with the columns each needs.

    Most lives are over two, and the work grows with the square of the number of conditions.
    """
    is_over_two = (among[:, 1:] != among[:, :1]).sum(axis=1) < 2
    for which, width in ((is_over_two, 2), (~is_over_two, among.shape[1])):
        if which.any():
            yield which, width


def added(plain: LogLikelihood, parts: Sequence[tuple[FloatArray, FloatArray, FloatArray]]) -> LogLikelihood:
    """The log-likelihood of the lives under one condition with the parts of others added."""
    values, slopes, mixed_hessian = zip(*parts, strict=True)
    slope, c = np.sum(slopes, axis=0), plain.by_b.shape[1]
    value, by_b, by_m = plain.value + np.sum(values, axis=0), plain.by_b + slope[:, :c], plain.by_m + slope[:, c:]
    return LogLikelihood(value, by_b, by_m, plain.bb, plain.bm, plain.mm, np.concatenate(mixed_hessian, axis=1))


def outer_products(gradient: FloatArray, weight: FloatArray) -> FloatArray:
    """weight * gradient gradient' of each life, shape (k, n, 1 + d, 1 + d)."""
    return np.asarray((weight[..., None] * gradient)[..., None] * gradient[..., None, :])


def _summed(values: FloatArray, place: IntArray, room: int) -> FloatArray:
    """Values of shape (k, n, ...) summed by index, shape (k, room)."""
    return np.array([np.bincount(place, one.ravel(), room) for one in values])
