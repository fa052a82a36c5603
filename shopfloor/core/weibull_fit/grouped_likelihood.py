"""Log-likelihoods of many groups of lives at once: as `Likelihood`, vectorised over groups.

Each group is a row; rows are padded with stretches of weight 0.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shopfloor.core.survival.censored_data import BoolArray, FloatArray, Lives
from shopfloor.core.survival.weibull import FROM_NEW, log_ratio
from shopfloor.core.weibull_fit.likelihood import (
    Slices,
    Stretches,
    by_log_hazard_failed,
    by_log_hazard_survived,
    hazard_of_failures,
)

IntArray = NDArray[np.intp]

NO_AGE = -1e6
"""log of the age at which a padding stretch ends: so early that its hazard is 0 at every shape."""


class GroupedLikelihood:
    """Log-likelihoods of g groups; every group has a failure, and a stretch that was survived.

    Attributes
    ----------
    unit, exact, interval : shape (g,)    reference age, numbers of exact failures and of interval failures
    """

    def __init__(self, lives: Lives, group: IntArray, groups: int) -> None:
        order = np.lexsort((lives.upper, group))
        low, up, entry, count = (column[order] for column in (lives.lower, lives.upper, lives.entry, lives.count))
        row, exact, failed = group[order], lives.is_exact[order], lives.is_failure[order]
        starts = np.searchsorted(row, np.arange(groups))
        self.unit = np.maximum.reduceat(np.where(failed, up, low), starts)
        log_unit = np.log(self.unit)
        self.exposed = _rows(entry, low, count, low > entry, row, log_unit)
        between = failed & ~exact
        self.between = _rows(low, up, count, between, row, log_unit)
        self._known = _rows(np.zeros_like(low), low, count, exact, row, log_unit)
        self.exact = _sums(row[exact], count[exact], groups)
        self.interval = _sums(row[between], count[between], groups)
        last = np.maximum.reduceat(np.where(exact, low, 0.0), starts)
        self._ended_by_failure = _sums(row, ~exact & (low != last[row]), groups) + self.interval == 0
        self._log_ages = _sums(row[exact], count[exact] * np.log(low[exact]), groups)
        self._relative_log_ages = self._log_ages - self.exact * log_unit

    @property
    def failures(self) -> FloatArray:
        """Failures of each group, counts included."""
        return np.asarray(self.exact + self.interval)

    def at(self, shape: FloatArray) -> Slices:
        """The log-likelihoods along c at shapes of shape (g, m): g * m curves, group after group."""
        m = shape.shape[1]
        relative, ages = self._relative_log_ages[:, None], self._log_ages[:, None]
        fixed = self.exact[:, None] * np.log(shape) + shape * relative - ages
        weight = self.between.weight
        between = None
        if weight.size:
            between = self.between.log_mass(shape[..., None]).reshape(-1, weight.shape[-1])
            weight = np.repeat(weight[:, 0], m, axis=0)
        return Slices(
            np.asarray(fixed.ravel(), float),
            np.repeat(self.exact, m),
            self.log_exposure(shape).ravel(),
            between,
            weight,
        )

    def log_exposure(self, shape: FloatArray) -> FloatArray:
        """log of the sum of (end^shape - start^shape) / unit^shape over all that was survived, shape (g, m)."""
        log_mass = self.exposed.log_mass(shape[..., None])
        mode = log_mass.max(axis=-1)
        np.exp(log_mass - mode[..., None], out=log_mass)
        return np.asarray(np.log(np.einsum("gmi,gi->gm", log_mass, self.exposed.weight[:, 0])) + mode)

    def failed_hazard_share(self, log_shape: FloatArray, c: FloatArray) -> FloatArray:
        """As `Likelihood.failed_hazard_share`, shape (g,)."""
        shape, c = np.exp(log_shape)[:, None, None], c[:, None, None]
        failed_hazard_share = hazard_of_failures(self._known, self.between, shape, c)[:, 0] / self.failures
        return np.where(self._ended_by_failure, 1.0, np.minimum(failed_hazard_share, 1.0))

    def newton(self, log_shape: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The maximising c at a log shape of each group, and the profiles' first two derivatives by log shape."""
        if self.between.weight.size or not self.exposed.all_from_new:
            c = self.at(np.exp(log_shape)[:, None]).mode()
            gradient, hessian = self.derivatives(log_shape, c)
            return c, gradient[:, 0], hessian[:, 0, 0] - hessian[:, 0, 1] ** 2 / hessian[:, 1, 1]
        b, log_end = np.exp(log_shape), _flat(self.exposed.log_end)
        part = np.exp(b[:, None] * log_end)
        part *= _flat(self.exposed.weight)
        total = part.sum(axis=1)
        part *= log_end
        mean, square = part.sum(axis=1) / total, np.einsum("gi,gi->g", part, log_end) / total
        slope = b * (self._relative_log_ages - self.exact * mean)
        return np.log(self.exact / total), self.exact + slope, slope - b * b * self.exact * (square - mean**2)

    def derivatives(self, log_shape: FloatArray, c: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Gradients, shape (g, 2), and Hessians, shape (g, 2, 2), by (log shape, c) at one point for each group."""
        b = np.exp(log_shape)
        gradient = np.stack([self.exact + b * self._relative_log_ages, self.exact], axis=1)
        hessian = np.zeros((len(b), 2, 2))
        hessian[:, 0, 0] = b * self._relative_log_ages
        pairs = ((self.exposed, by_log_hazard_survived), (self.between, by_log_hazard_failed))
        for stretches, curve in pairs:
            if stretches.weight.size:
                _add(gradient, hessian, stretches, b, curve(c[:, None] + _flat(stretches.log_mass(b[:, None, None]))))
        hessian[:, 1, 0] = hessian[:, 0, 1]
        return gradient, hessian


def _sums(row: IntArray, values: FloatArray | BoolArray, groups: int) -> FloatArray:
    return np.asarray(np.bincount(row, values, groups), dtype=float)


def _flat(array: FloatArray) -> FloatArray:
    return array[:, 0, :]


def _add(
    gradient: FloatArray, hessian: FloatArray, stretches: Stretches, b: FloatArray, curve: tuple[FloatArray, FloatArray]
) -> None:
    """Add the contribution of the stretches, from the first and second derivative of each by its log hazard."""
    weight = _flat(stretches.weight)
    first, second = (weight * part for part in curve)
    by_b, by_bb = stretches.slopes(b[:, None, None])
    by_x = b[:, None] * _flat(by_b)
    gradient[:, 0] += np.einsum("gi,gi->g", first, by_x)
    gradient[:, 1] += first.sum(axis=1)
    by_xx = by_x if stretches.all_from_new else by_x + (b * b)[:, None] * _flat(by_bb)
    second_x = second * by_x
    hessian[:, 0, 0] += np.einsum("gi,gi->g", second_x, by_x) + np.einsum("gi,gi->g", first, by_xx)
    hessian[:, 0, 1] += second_x.sum(axis=1)
    hessian[:, 1, 1] += second.sum(axis=1)


def _rows(
    start: FloatArray, end: FloatArray, weight: FloatArray, which: BoolArray, row: IntArray, log_unit: FloatArray
) -> Stretches:
    """The stretches in `which`, one row of shape (1, n) for each group, padded with stretches of weight 0."""
    start, end, weight, row = start[which], end[which], weight[which], row[which]
    groups = len(log_unit)
    place = np.arange(len(row)) - np.searchsorted(row, np.arange(groups))[row]
    shape = (groups, int(place.max(initial=-1)) + 1)
    log_end, width, weights = np.full(shape, NO_AGE), np.full(shape, FROM_NEW), np.zeros(shape)
    log_end[row, place] = np.log(end) - log_unit[row]
    from_new = not start.any()
    if not from_new:
        width[row, place] = log_ratio(end, start)
    weights[row, place] = weight
    return Stretches(log_end[:, None], width[:, None], weights[:, None], from_new)
