"""The part of the likelihood that comes from lives over several conditions."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from shopfloor.core.hierarchical.model.conditions import Histories, IntArray
from shopfloor.core.hierarchical.model.frailty import MOST_LOG_HAZARD, Curve, Terms, gap_and_rise
from shopfloor.core.survival.censored_data import BoolArray, FloatArray


@dataclass(frozen=True, eq=False)
class _Lives:
    """Some lives over several conditions, as `Histories` holds them: `holes` are its `mixed`."""

    among: IntArray
    holes: FloatArray
    count: FloatArray
    exact: BoolArray
    between: BoolArray


@dataclass(frozen=True, eq=False)
class Exposed:
    """Lives at one of their ages: log H, A, and the gradient of log H, shape (k, n, 1 + d).

    The gradient is by b of the last condition, then by m of each condition that the life was used in.
    """

    log_hazard: FloatArray
    curve: Curve
    gradient: FloatArray

    @classmethod
    def at(cls, holes: FloatArray, among: IntArray, b: FloatArray, m: FloatArray, theta: FloatArray) -> Exposed:
        """Lives with so many holes in each of the conditions `among`, shape (n, d) both, the last one first."""
        used = holes * np.exp(-m)[:, among]
        total = used.sum(axis=2)
        is_used = total > 0
        safe = np.where(is_used, total, 1.0)
        shape = np.exp(b)[:, among[:, 0]]
        log_hazard = np.where(is_used, shape * np.log(safe), -2 * MOST_LOG_HAZARD)
        gradient = np.concatenate([log_hazard[..., None], -(shape / safe)[..., None] * used], axis=2)
        return cls(log_hazard, Curve.at(log_hazard, theta), gradient)


class Paths(ABC):
    """Where lives over several conditions stand among the parameters: b of every condition, then m of every condition.

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
        """The lives' gradients, shape (k, n, 1 + d), by parameter: (k, 2 c)."""
        return _summed(gradient, self._parameter.ravel(), 2 * self._conditions)

    def across(self, bent: FloatArray) -> FloatArray:
        """Their parts of the Hessian, shape (k, n, 1 + d, 1 + d), at the cells: (k, cells)."""
        return _summed(bent, self._cell, len(self.cells[0]))

    @abstractmethod
    def terms(self, b: FloatArray, m: FloatArray, theta: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Value (k,), gradient (k, 2 c) and the negative Hessian at the cells (k, cells)."""


class Mixed(Paths):
    """Lives over several conditions. Their part of the Hessian is as in a least-squares fit: never negative."""

    def __init__(self, lives: _Lives, conditions: int) -> None:
        super().__init__(lives.among, conditions)
        self._last, self._among = lives.among[:, 0], lives.among
        self._holes, self._count = lives.holes, lives.count
        self._exact, self._between = np.where(lives.exact, self._count, 0.0), lives.between

    def terms(self, b: FloatArray, m: FloatArray, theta: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """See `Paths`."""
        low, up, entry = (Exposed.at(holes, self._among, b, m, theta) for holes in self._holes.transpose(1, 0, 2))
        n, known, last = self._count, self._exact, self._last
        gap, rise = gap_and_rise(low.curve, up.curve)
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
        # log h has b and -m of the last condition in it, and b again within 1 / shape.
        gradient[..., 0] += known * (1 + low.log_hazard / shape)
        gradient[..., 1] -= known
        widening = up.curve.first[..., None] * up.gradient - low.curve.first[..., None] * low.gradient
        curved = bent(low.gradient, (n + known * theta) * low.curve.second) + bent(widening, rise * (1 + rise / n))
        return value.sum(axis=1), self.slope(gradient), self.across(curved)


def mixed_lives(
    histories: Histories, exact: BoolArray, between: BoolArray, elsewhere: BoolArray, conditions: int
) -> list[Paths]:
    """The lives over several conditions; those counted elsewhere have their entry alone here."""
    first = len(histories.lives) - len(histories.among)
    exact, between, elsewhere, count = exact[first:], between[first:], elsewhere[first:], histories.lives.count[first:]
    holes = histories.mixed.copy()
    holes[elsewhere, 0] = 0.0
    return [
        Mixed(_Lives(histories.among[which, :width], holes[which, :, :width], count[which], exact[which],
                     between[which]), conditions)
        for which, width in by_width(histories.among)
    ]  # fmt: skip


def by_width(among: IntArray) -> Iterator[tuple[BoolArray, int]]:
    """The lives over two conditions, and those over more: most are over two, and work grows with the square."""
    is_over_two = (among[:, 1:] != among[:, :1]).sum(axis=1) < 2
    for which, width in ((is_over_two, 2), (~is_over_two, among.shape[1])):
        if which.any():
            yield which, width


def sum_of(plain: Terms, parts: Sequence[tuple[FloatArray, FloatArray, FloatArray]]) -> Terms:
    """The terms of the plain lives with those of others."""
    values, slopes, across = zip(*parts, strict=True)
    slope, c = np.sum(slopes, axis=0), plain.by_b.shape[1]
    value, by_b, by_m = plain.value + np.sum(values, axis=0), plain.by_b + slope[:, :c], plain.by_m + slope[:, c:]
    return Terms(value, by_b, by_m, plain.bb, plain.bm, plain.mm, np.concatenate(across, axis=1))


def bent(gradient: FloatArray, weight: FloatArray) -> FloatArray:
    """weight * gradient gradient' of each life, shape (k, n, 1 + d, 1 + d)."""
    return np.asarray((weight[..., None] * gradient)[..., None] * gradient[..., None, :])


def _summed(values: FloatArray, place: IntArray, room: int) -> FloatArray:
    """Values of shape (k, n, ...) added up at their places, shape (k, room)."""
    return np.array([np.bincount(place, one.ravel(), room) for one in values])
