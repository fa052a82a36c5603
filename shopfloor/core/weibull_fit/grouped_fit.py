"""Weibull fits of many groups of lives at once: as `fit_weibull`, vectorised over groups."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import rounded
from shopfloor.core.survival.censored_data import FloatArray, Lives
from shopfloor.core.survival.estimates import (
    DEFAULT_LEVEL,
    SCALE_SHARE,
    Estimand,
    checked_level,
    log_life,
    log_next_risk,
)
from shopfloor.core.survival.weibull import bounded_exp, log_next_hazard
from shopfloor.core.weibull_fit.grouped_likelihood import GroupedLikelihood, IntArray
from shopfloor.core.weibull_fit.likelihood_region import AS_GOOD_AS_OPEN, Regions
from shopfloor.core.weibull_fit.maximise import Grid, NoMaximum, no_maximum_at_sight, no_usable_maximum, profile_maxima
from shopfloor.core.weibull_fit.small_sample import DEFAULT_METHOD, PLAIN, Adjustment, adjustment_for

BLOCK = 60_000
"""Lives fitted together, so that arrays of lives by shapes fit in memory."""

Interval = tuple[FloatArray, FloatArray]


@dataclass(frozen=True, eq=False)
class ManyFits:
    """Fits of those groups that have one, in the order of `groups`; all estimates are arrays of shape (k,).

    Attributes
    ----------
    groups : whole numbers, shape (k,)    which groups were fitted
    no_maximum : dict                     why the others were not, by group
    estimates : shape (5, k)              shape and scale to use, maximum-likelihood shape and scale, log-likelihood
    level, method                         of every interval
    """

    groups: IntArray
    no_maximum: dict[int, NoMaximum]
    estimates: FloatArray
    level: float
    method: str
    blocks: tuple[_Block, ...]

    @property
    def shape(self) -> FloatArray:
        """Shapes to use: with calibrated intervals corrected for small-sample bias."""
        return np.asarray(self.estimates[0])

    @property
    def scale(self) -> FloatArray:
        """Scales to use."""
        return np.asarray(self.estimates[1])

    @property
    def most_likely_shape(self) -> FloatArray:
        """Maximum-likelihood shapes."""
        return np.asarray(self.estimates[2])

    @property
    def most_likely_scale(self) -> FloatArray:
        """Maximum-likelihood scales."""
        return np.asarray(self.estimates[3])

    @property
    def log_likelihood(self) -> FloatArray:
        """Maximised log-likelihoods."""
        return np.asarray(self.estimates[4])

    @cached_property
    def shape_interval(self) -> Interval:
        """Intervals of the shapes; 0 and infinity are open ends."""
        return _joined([block.regions.shape_intervals for block in self.blocks])

    @cached_property
    def scale_interval(self) -> Interval:
        """Intervals of the scales."""
        return self.life_interval(SCALE_SHARE)

    def life(self, p: float) -> FloatArray:
        """Ages by which the share `p` (0 < p < 1) has failed."""
        return np.asarray(self.scale * (-math.log1p(-p)) ** (1 / self.shape))

    def life_interval(self, p: float) -> Interval:
        """Intervals of the ages by which the share `p` has failed; 0 and infinity are open ends."""
        if not 0 < p < 1:
            raise InputError.of("p", f"{rounded(p)} is not a share of lives", "give a number between 0 and 1")
        return _joined([block.lives(log_life(np.array([p]))) for block in self.blocks])

    def risk(self, age: float, next_holes: float) -> FloatArray:
        """Probabilities that a tap of this age fails within the next holes."""
        exponent = log_next_hazard(age, next_holes, self.shape) - self.shape * np.log(self.scale)
        return np.asarray(-np.expm1(-bounded_exp(exponent)))

    def risk_interval(self, age: float, next_holes: float) -> Interval:
        """Intervals of the probabilities that a tap of this age fails within the next holes."""
        return _joined([block.risks(age, next_holes) for block in self.blocks])


def fit_many(lives: Lives, group: ArrayLike, level: float = DEFAULT_LEVEL, interval: str = DEFAULT_METHOD) -> ManyFits:
    """Fit a Weibull distribution to each group of lives.

    Parameters
    ----------
    lives : Lives                               of all groups
    group : array_like of integers, shape (n,)  group of each life, from 0
    level, interval                             as in `fit_weibull`

    Returns
    -------
    ManyFits                                    with the reason for each group without a fit

    Raises
    ------
    InputError      group, level or interval is not valid
    NotConverged    a search did not converge (not known to happen)
    """
    checked_level(level)
    adjustment = adjustment_for(interval)
    label = _checked_groups(group, len(lives))
    size = np.bincount(label)
    no_maximum = dict(_without_maximum(lives, label, len(size), adjustment))
    wanted = np.array([g for g in range(len(size)) if g not in no_maximum], dtype=np.intp)
    blocks: list[_Block] = []
    for members in _alike(wanted, size):
        blocks += _fitted(lives, label, members, adjustment, level, no_maximum)
    estimates = np.concatenate([np.zeros((5, 0)), *(block.estimates for block in blocks)], axis=1)
    groups = np.concatenate([np.zeros(0, np.intp), *(block.members for block in blocks)])
    return ManyFits(groups, no_maximum, estimates, level, interval, tuple(blocks))


def _checked_groups(group: ArrayLike, n: int) -> IntArray:
    label = np.asarray(group)
    if label.shape != (n,) or (n and (not np.issubdtype(label.dtype, np.integer) or label.min() < 0)):
        raise InputError.of("group", "not one group for each life", "give whole numbers from 0, one for each life")
    return label.astype(np.intp)


def _without_maximum(
    lives: Lives, label: IntArray, groups: int, adjustment: Adjustment
) -> Iterator[tuple[int, NoMaximum]]:
    """The groups that obviously have no maximum, without a search."""
    failures = np.bincount(label[lives.is_failure], lives.count[lives.is_failure], groups)
    exposed = np.bincount(label[lives.lower > lives.entry], minlength=groups)
    for g in range(groups):
        reason = no_maximum_at_sight(float(failures[g]), int(exposed[g]), adjustment)
        if reason is not None:
            yield g, reason


def _alike(groups: IntArray, size: IntArray) -> Iterator[IntArray]:
    """The groups in blocks of similar size, so that padding to the longest wastes little."""
    in_order = groups[np.argsort(size[groups], kind="stable")]
    while in_order.size:
        fits = int(np.searchsorted(size[in_order] * np.arange(1, in_order.size + 1), BLOCK, side="right"))
        yield in_order[: max(fits, 1)]
        in_order = in_order[max(fits, 1) :]


def _fitted(
    lives: Lives,
    label: IntArray,
    members: IntArray,
    adjustment: Adjustment,
    level: float,
    no_maximum: dict[int, NoMaximum],
) -> Iterator[_Block]:
    """The members fitted together; those that turn out to have no maximum are noted and left out."""
    if not members.size:
        return
    likelihood = _likelihood(lives, label, members)
    grid = Grid.of(likelihood, len(members))
    reasons = grid.without_maximum(adjustment)
    if not any(reasons):
        places = [grid.best(wanted) for wanted in (PLAIN, adjustment)]
        found = [profile_maxima(likelihood, wanted, at) for wanted, at in zip((PLAIN, adjustment), places, strict=True)]
        pairs = zip(*(zip(*columns, strict=True) for columns in found), strict=True)
        reasons = [no_usable_maximum(most_likely, estimate, adjustment) for most_likely, estimate in pairs]
    if any(reasons):
        no_maximum.update((int(g), reason) for g, reason in zip(members, reasons, strict=True) if reason)
        kept = np.array([reason is None for reason in reasons])
        yield from _fitted(lives, label, members[kept], adjustment, level, no_maximum)
    else:
        yield _block(members, likelihood, found[0], found[1], adjustment, level)


def _likelihood(lives: Lives, label: IntArray, members: IntArray) -> GroupedLikelihood:
    """The likelihoods of some groups."""
    place = np.full(int(label.max()) + 1, -1)
    place[members] = np.arange(len(members))
    rows = np.flatnonzero(place[label] >= 0)
    return GroupedLikelihood(lives.rows(rows), place[label[rows]], len(members))


def _block(
    members: IntArray,
    likelihood: GroupedLikelihood,
    most_likely: Interval,
    estimate: Interval,
    adjustment: Adjustment,
    level: float,
) -> _Block:
    """The fits with their likelihood regions."""
    log_unit = np.log(likelihood.unit)
    log_likelihood, at_estimate = (
        likelihood.at(np.exp(log_shape)[:, None]).value(c) for log_shape, c in (most_likely, estimate)
    )
    estimates = [part for x, c in (estimate, most_likely) for part in (np.exp(x), np.exp(log_unit - c * np.exp(-x)))]
    drop = ndtri((1 + level) / 2) ** 2 / 2 * adjustment.bartlett_factor(likelihood.failures)
    regions = Regions(likelihood, *estimate, at_estimate - adjustment.value(estimate[0]), drop, adjustment)
    return _Block(members, likelihood, np.stack([*estimates, log_likelihood]), regions)


@dataclass(frozen=True, eq=False)
class _Block:
    """Groups fitted together."""

    members: IntArray
    likelihood: GroupedLikelihood
    estimates: FloatArray
    regions: Regions

    @property
    def unit(self) -> FloatArray:
        return self.likelihood.unit[:, None]

    def lives(self, estimand: Estimand) -> Interval:
        """Intervals of a log age relative to the unit, as ages."""
        low, high, low_shape, high_shape = (end[:, 0] for end in self.regions.range(estimand))
        return self._ends(low, low_shape, 0.0), self._ends(high, high_shape, math.inf)

    def _ends(self, log_age: FloatArray, shape: FloatArray, open_end: float) -> FloatArray:
        log_age = log_age + np.log(self.likelihood.unit)
        is_open = (shape < AS_GOOD_AS_OPEN) | (np.abs(log_age) > 700)
        return np.where(is_open, open_end, np.exp(np.where(is_open, 0.0, log_age)))

    def risks(self, age: float, next_holes: float) -> Interval:
        """Intervals of a probability of failing."""
        estimand = log_next_risk(np.array([age]), np.array([next_holes]), self.unit[..., None])
        low, high, _, _ = self.regions.range(estimand)
        return -np.expm1(-bounded_exp(low[:, 0])), -np.expm1(-bounded_exp(high[:, 0]))


def _joined(intervals: list[Interval]) -> Interval:
    """The intervals of all blocks, one after the other."""
    low, high = (np.concatenate([np.zeros(0), *ends]) for ends in (list(zip(*intervals, strict=True)) or [(), ()]))
    return low, high
