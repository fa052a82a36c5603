"""Fits a Weibull law to each of many groups of lives at once: the answers of `fit_weibull`, as arrays over groups."""

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
from shopfloor.core.survival.estimates import DEFAULT_LEVEL, SCALE_SHARE, Figure, checked_level, log_life, log_next_risk
from shopfloor.core.survival.weibull import bounded_exp, log_next_hazard
from shopfloor.core.weibull_fit.grouped_likelihood import GroupedLikelihood, IntArray
from shopfloor.core.weibull_fit.likelihood_region import AS_GOOD_AS_OPEN, Regions
from shopfloor.core.weibull_fit.maximise import Grid, Lack, climb_all, lack_at_sight, lack_of
from shopfloor.core.weibull_fit.small_sample import DEFAULT_METHOD, PLAIN, Adjustment, adjustment_for

BLOCK = 60_000
"""Lives fitted together, so that arrays of them times shapes stay within memory."""

Interval = tuple[FloatArray, FloatArray]


@dataclass(frozen=True, eq=False)
class ManyFits:
    """Laws of those groups that show one, in the order of `groups`; all figures are arrays of shape (k,).

    Attributes
    ----------
    groups : whole numbers, shape (k,)    which groups were fitted
    lacking : dict                        why the others were not, by group
    laws : shape (5, k)                   shape and scale to use, the most likely shape and scale, log-likelihood there
    level, method                         of every interval
    """

    groups: IntArray
    lacking: dict[int, Lack]
    laws: FloatArray
    level: float
    method: str
    blocks: tuple[_Block, ...]

    @property
    def shape(self) -> FloatArray:
        """Shapes to use: with calibrated intervals without small-sample bias."""
        return np.asarray(self.laws[0])

    @property
    def scale(self) -> FloatArray:
        """Scales to use."""
        return np.asarray(self.laws[1])

    @property
    def most_likely_shape(self) -> FloatArray:
        """Shapes of the maximum-likelihood laws."""
        return np.asarray(self.laws[2])

    @property
    def most_likely_scale(self) -> FloatArray:
        """Scales of the maximum-likelihood laws."""
        return np.asarray(self.laws[3])

    @property
    def log_likelihood(self) -> FloatArray:
        """Log-likelihoods of the maximum-likelihood laws."""
        return np.asarray(self.laws[4])

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
        """Chances that a tap of this age fails within the next holes."""
        exponent = log_next_hazard(age, next_holes, self.shape) - self.shape * np.log(self.scale)
        return np.asarray(-np.expm1(-bounded_exp(exponent)))

    def risk_interval(self, age: float, next_holes: float) -> Interval:
        """Intervals of the chances that a tap of this age fails within the next holes."""
        return _joined([block.risks(age, next_holes) for block in self.blocks])


def fit_many(lives: Lives, group: ArrayLike, level: float = DEFAULT_LEVEL, interval: str = DEFAULT_METHOD) -> ManyFits:
    """The Weibull law of each group of lives, or why a group shows none.

    Parameters
    ----------
    lives : Lives                              of all groups
    group : array_like of whole numbers, shape (n,)    to which group each life belongs, from 0
    level, interval                            as in `fit_weibull`

    Raises
    ------
    InputError    group, level or interval cannot be
    """
    checked_level(level)
    adjustment = adjustment_for(interval)
    label = _checked_groups(group, len(lives))
    size = np.bincount(label)
    lacking = dict(_seen_lacking(lives, label, len(size), adjustment))
    wanted = np.array([g for g in range(len(size)) if g not in lacking], dtype=np.intp)
    blocks: list[_Block] = []
    for members in _alike(wanted, size):
        blocks += _fitted(lives, label, members, adjustment, level, lacking)
    laws = np.concatenate([np.zeros((5, 0)), *(block.laws for block in blocks)], axis=1)
    groups = np.concatenate([np.zeros(0, np.intp), *(block.members for block in blocks)])
    return ManyFits(groups, lacking, laws, level, interval, tuple(blocks))


def _checked_groups(group: ArrayLike, n: int) -> IntArray:
    label = np.asarray(group)
    if label.shape != (n,) or (n and (not np.issubdtype(label.dtype, np.integer) or label.min() < 0)):
        raise InputError.of("group", "not one group for each life", "give whole numbers from 0, one for each life")
    return label.astype(np.intp)


def _seen_lacking(lives: Lives, label: IntArray, groups: int, adjustment: Adjustment) -> Iterator[tuple[int, Lack]]:
    """The groups of which it can be seen without a search that they show no law."""
    failures = np.bincount(label[lives.is_failure], lives.count[lives.is_failure], groups)
    exposed = np.bincount(label[lives.lower > lives.entry], minlength=groups)
    for g in range(groups):
        lack = lack_at_sight(float(failures[g]), int(exposed[g]), adjustment)
        if lack is not None:
            yield g, lack


def _alike(groups: IntArray, size: IntArray) -> Iterator[IntArray]:
    """The groups in blocks of like size, so that rows filled up to the longest waste little."""
    in_order = groups[np.argsort(size[groups], kind="stable")]
    while in_order.size:
        fits = int(np.searchsorted(size[in_order] * np.arange(1, in_order.size + 1), BLOCK, side="right"))
        yield in_order[: max(fits, 1)]
        in_order = in_order[max(fits, 1) :]


def _fitted(
    lives: Lives, label: IntArray, members: IntArray, adjustment: Adjustment, level: float, lacking: dict[int, Lack]
) -> Iterator[_Block]:
    """The members fitted together; those that turn out to show no law are noted and left out."""
    if not members.size:
        return
    likelihood = _likelihood(lives, label, members)
    grid = Grid.of(likelihood, len(members))
    lacks = grid.lacks(adjustment)
    if not any(lacks):
        places = [grid.best(wanted) for wanted in (PLAIN, adjustment)]
        found = [climb_all(likelihood, wanted, at) for wanted, at in zip((PLAIN, adjustment), places, strict=True)]
        pairs = zip(*(zip(*columns, strict=True) for columns in found), strict=True)
        lacks = [lack_of(most_likely, law, adjustment) for most_likely, law in pairs]
    if any(lacks):
        lacking.update((int(g), lack) for g, lack in zip(members, lacks, strict=True) if lack)
        kept = np.array([lack is None for lack in lacks])
        yield from _fitted(lives, label, members[kept], adjustment, level, lacking)
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
    law: Interval,
    adjustment: Adjustment,
    level: float,
) -> _Block:
    """What is found, with its regions."""
    log_unit = np.log(likelihood.unit)
    log_likelihood, at_law = (likelihood.at(np.exp(log_shape)[:, None]).value(c) for log_shape, c in (most_likely, law))
    laws = [part for x, c in (law, most_likely) for part in (np.exp(x), np.exp(log_unit - c * np.exp(-x)))]
    fall = ndtri((1 + level) / 2) ** 2 / 2 * adjustment.factor(likelihood.failures)
    regions = Regions(likelihood, *law, at_law - adjustment.value(law[0]), fall, adjustment)
    return _Block(members, likelihood, np.stack([*laws, log_likelihood]), regions)


@dataclass(frozen=True, eq=False)
class _Block:
    """Groups fitted together."""

    members: IntArray
    likelihood: GroupedLikelihood
    laws: FloatArray
    regions: Regions

    @property
    def unit(self) -> FloatArray:
        return self.likelihood.unit[:, None]

    def lives(self, figure: Figure) -> Interval:
        """Intervals of a log age over the unit, as ages."""
        low, high, low_shape, high_shape = (end[:, 0] for end in self.regions.range(figure))
        return self._ends(low, low_shape, 0.0), self._ends(high, high_shape, math.inf)

    def _ends(self, log_age: FloatArray, shape: FloatArray, open_end: float) -> FloatArray:
        log_age = log_age + np.log(self.likelihood.unit)
        is_open = (shape < AS_GOOD_AS_OPEN) | (np.abs(log_age) > 700)
        return np.where(is_open, open_end, np.exp(np.where(is_open, 0.0, log_age)))

    def risks(self, age: float, next_holes: float) -> Interval:
        """Intervals of a chance of failing."""
        figure = log_next_risk(np.array([age]), np.array([next_holes]), self.unit[..., None])
        low, high, _, _ = self.regions.range(figure)
        return -np.expm1(-bounded_exp(low[:, 0])), -np.expm1(-bounded_exp(high[:, 0]))


def _joined(intervals: list[Interval]) -> Interval:
    """The intervals of all blocks, one after the other."""
    low, high = (np.concatenate([np.zeros(0), *ends]) for ends in (list(zip(*intervals, strict=True)) or [(), ()]))
    return low, high
