"""Solvers of the Weibull likelihood beside those of scipy."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from scipy.optimize import brentq

from shopfloor.core.survival.censored_data import FloatArray, Lives
from shopfloor.core.survival.estimates import log_life
from shopfloor.core.weibull_fit.fit import WeibullFit, fit_weibull
from shopfloor.core.weibull_fit.grouped_likelihood import GroupedLikelihood, IntArray
from shopfloor.core.weibull_fit.likelihood import Likelihood, Slices
from shopfloor.core.weibull_fit.likelihood_region import ANGLES, BORDER_POINTS, HIGHEST, Regions, SingleGroup, profile
from shopfloor.core.weibull_fit.maximise import LOG_SHAPES, Grid, profile_maxima, profile_maximum
from shopfloor.core.weibull_fit.small_sample import CALIBRATED
from tests.bench.solver_case import Case, bracket_root, find_minimum, root_of


def some_of(slices: Slices, rows: IntArray) -> Slices:
    """Some of the curves."""
    between = None if slices.between is None else slices.between[rows]
    weight = slices.weight if slices.weight.ndim == 1 else slices.weight[rows]
    exact = np.broadcast_to(slices.exact, slices.fixed.shape)[rows]
    return Slices(slices.fixed[rows], exact, slices.log_exposure[rows], between, weight)


def modes(slices: Slices) -> FloatArray:
    """The c of the largest log-likelihood of each curve: the root of its slope, bracketed from below."""
    rows = np.arange(len(slices.fixed))
    assert slices.between is not None
    start = slices._below_mode(slices.between)

    def slope(c: FloatArray, rows: IntArray) -> FloatArray:
        return some_of(slices, rows).slope(c)[0]

    found = bracket_root(slope, start - 1e-9, start + 1.0, args=(rows,))
    return root_of(slope, *found.bracket, rows)


def edges(slices: Slices, target: FloatArray, mode: FloatArray) -> FloatArray:
    """The c above each peak where the log-likelihood has fallen to the target."""
    rows = np.arange(len(slices.fixed))

    def left(c: FloatArray, rows: IntArray) -> FloatArray:
        return some_of(slices, rows).value(c) - target[rows]

    found = bracket_root(left, mode, mode + 1.0, args=(rows,))
    return root_of(left, *found.bracket, rows)


def of_slices(name: str, slices: Slices) -> Iterator[Case]:
    """`Slices.mode` and `Slices.crossing`."""
    mode = slices.mode()
    target = slices.value(mode) - 1.35
    above = np.ones(mode.shape, dtype=bool)
    yield Case(f"likelihood.Slices.mode: {name}", slices.mode, lambda: modes(slices))
    yield Case(
        f"likelihood.Slices.crossing: {name}",
        lambda: slices.crossing(target, above, mode),
        lambda: edges(slices, target, mode),
    )


def shape_ends(regions: Regions) -> FloatArray:
    """The upper end of each shape's interval: the root of the profile deviance less its goal."""
    rows = np.arange(len(regions.log_shape))
    goal = regions._root_deviance + regions._skewness[1]

    def over(x: FloatArray, rows: IntArray) -> FloatArray:
        here = regions.log_shape.copy()
        here[rows] = x
        return (regions._root(regions.profile(here)[0]) - goal)[rows]

    return root_of(over, regions.log_shape, np.full(goal.shape, HIGHEST), rows)


def highest_on_border(regions: Regions) -> FloatArray:
    """The largest life at 10 % on the border: a minimum between three angles of the coarse walk."""
    estimand, rows = log_life(np.array([0.1])), np.arange(len(regions.log_shape))
    shapes, cs = (points[:, None, :] for points in regions.coarse_border)
    centre = ANGLES[estimand(shapes, cs)[:, 0].argmax(axis=-1)]
    step = 2 * math.pi / BORDER_POINTS

    def below(angle: FloatArray, rows: IntArray) -> FloatArray:
        here = centre.copy()
        here[rows] = angle
        shape, c = (part[:, None, None] for part in regions.border(here))
        return -estimand(shape, c)[rows, 0, 0]

    tolerances = {"xatol": 1e-6, "xrtol": 1e-6, "fatol": 1e-12, "frtol": 1e-12}
    bracket = centre - step, centre, centre + step
    return -np.asarray(find_minimum(below, bracket, args=(rows,), tolerances=tolerances).f_x)


def of_regions(name: str, regions: Regions) -> Iterator[Case]:
    """The ends of the shape's interval, and the extreme of a figure along the border."""
    assert (regions._end(HIGHEST) < HIGHEST).all()
    assert regions.coarse_border
    estimand = log_life(np.array([0.1]))
    yield Case(f"likelihood_region._end: {name}", lambda: regions._end(HIGHEST), lambda: shape_ends(regions))
    yield Case(
        f"likelihood_region._extreme: {name}",
        lambda: regions._extreme(estimand, 1.0)[0][:, 0],
        lambda: highest_on_border(regions),
    )


def grouped(groups: int, n: int) -> GroupedLikelihood:
    """So many groups of n lives, right-censored."""
    rng = np.random.default_rng(1)
    life, stop = 400 * rng.weibull(2.5, groups * n), rng.uniform(100, 700, groups * n)
    lives = Lives.of(np.minimum(life, stop), np.where(life <= stop, life, np.inf))
    return GroupedLikelihood(lives, np.repeat(np.arange(groups), n), groups)


def of_many(likelihood: GroupedLikelihood, groups: int) -> Iterator[Case]:
    """The most likely shapes of many groups together, and what lies around them."""
    place = Grid.of(likelihood, groups).best(CALIBRATED)
    low, start, high = (LOG_SHAPES[place + k] for k in (-1, 0, 1))

    def by_root() -> FloatArray:
        def slope(x: FloatArray, rows: IntArray) -> FloatArray:
            here = start.copy()
            here[rows] = x
            return (likelihood.newton(here)[1] - CALIBRATED.slope(here))[rows]

        return root_of(slope, low, high, np.arange(groups))

    name = f"{groups:,} groups"
    yield Case(f"maximise.profile_maxima: {name}", lambda: profile_maxima(likelihood, CALIBRATED, place)[0], by_root)
    log_shape, c = profile_maxima(likelihood, CALIBRATED, place)
    top = profile(likelihood, CALIBRATED, log_shape)[0]
    drop = 1.35 * CALIBRATED.bartlett_factor(likelihood.failures)
    regions = Regions(likelihood, log_shape, c, top, drop, CALIBRATED)
    kept = regions._end(HIGHEST) < HIGHEST
    if kept.all():
        yield from of_regions(name, regions)


def of_one(name: str, lives: Lives) -> Iterator[Case]:
    """The most likely shape of one group, by `climb` (which tries `leap` first), and what lies around it."""
    likelihood = Likelihood(lives)
    grid = Grid.of(SingleGroup(likelihood), 1)
    place = int(grid.best(CALIBRATED)[0])
    low, high = float(LOG_SHAPES[place - 1]), float(LOG_SHAPES[place + 1])

    def slope(x: float) -> float:
        return likelihood.newton(x)[1] - CALIBRATED.slope_at(x)

    def each(x: FloatArray) -> FloatArray:
        return np.array([slope(float(one)) for one in x.ravel()]).reshape(x.shape)

    own = lambda: profile_maximum(likelihood, CALIBRATED, grid)[0]  # noqa: E731
    yield Case(f"maximise.profile_maximum: {name}", own, lambda: root_of(each, np.array(low), np.array(high)))
    yield Case(
        f"maximise.profile_maximum: {name}, brentq", own, lambda: brentq(slope, low, high, xtol=1e-12, rtol=1e-12)
    )
    fit = fit_weibull(lives)
    assert isinstance(fit, WeibullFit)
    yield from of_regions(name, fit.region.regions)
