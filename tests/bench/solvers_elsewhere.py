"""Solvers of competing risks, regression, costs, slips, shares and the pool beside those of scipy."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from shopfloor.core.decision import replacement
from shopfloor.core.hierarchical.inference import newton
from shopfloor.core.hierarchical.inference import posterior as pool
from shopfloor.core.hierarchical.inference.hessian import Hessian
from shopfloor.core.hierarchical.model.design import design
from shopfloor.core.hierarchical.model.frailty import LogLikelihood
from shopfloor.core.hierarchical.model.likelihood import ModeLikelihood
from shopfloor.core.hierarchical.model.priors import hyperparameter_grid
from shopfloor.core.hierarchical.prediction.slip_factor import log_factor
from shopfloor.core.hierarchical.prediction.slip_model import MOST_STRENGTH, STRENGTH_MEAN
from shopfloor.core.survival import turnbull
from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.core.survival.weibull import log_ratio
from shopfloor.core.weibull_fit import competing_risks, regression
from shopfloor.core.weibull_fit.grouped_likelihood import IntArray
from tests.bench.bench_pool import GROUPS, shop
from tests.bench.solver_case import (
    Case,
    Solve,
    accelerated,
    bracket_root,
    find_minimum,
    find_root,
    integral,
    minimize,
    root_of,
)
from tests.core.random_lives import lives_of_two_modes, mixed_lives


def of_competing(n: int) -> Iterator[Case]:
    """The peak of the integrand of two modes within intervals, its ends, and its integral."""
    rng = np.random.default_rng(3)
    start = rng.uniform(0, 500, n)
    end = start + rng.uniform(10, 300, n)
    distributions = [
        competing_risks.LogParameters(math.log(2.0), math.log(400.0)),
        competing_risks.LogParameters(math.log(4.0), math.log(380.0)),
    ]
    width = log_ratio(end, start)
    shapes = [np.exp(np.asarray(distribution.log_shape)) for distribution in distributions]
    tops = [
        shape * (np.log(end) - distribution.log_scale)
        for shape, distribution in zip(shapes, distributions, strict=True)
    ]
    back = competing_risks._mode(shapes, tops, width)

    def past(x: FloatArray, rows: IntArray) -> FloatArray:
        terms = (shape / shapes[0] * np.exp(top[rows] - shape * x) for shape, top in zip(shapes, tops, strict=True))
        return np.log(sum(terms))

    def fallen(left: FloatArray, rows: IntArray) -> FloatArray:
        gained = sum(
            np.exp(top[rows] - shape * back[rows]) * np.expm1(-shape * left)
            for shape, top in zip(shapes, tops, strict=True)
        )
        return np.asarray(shapes[0] * left + gained - competing_risks.CUTOFF)

    def mode() -> FloatArray:
        rows = np.arange(n)
        found = bracket_root(past, np.zeros(n), np.ones(n), args=(rows,))
        return np.clip(root_of(past, *found.bracket, rows), 0.0, width)

    def left() -> FloatArray:
        rows = np.arange(n)
        most = (competing_risks.CUTOFF + sum(competing_risks._hazards(shapes, tops, back))) / shapes[0]
        return np.minimum(root_of(fallen, np.zeros(n), most, rows), width - back)

    def chance() -> FloatArray:
        def log_density(x: FloatArray, log_end: FloatArray, low: FloatArray) -> FloatArray:
            hazards = [
                np.exp(shape * (x - distribution.log_scale))
                for shape, distribution in zip(shapes, distributions, strict=True)
            ]
            before = [
                np.exp(shape * (low - distribution.log_scale))
                for shape, distribution in zip(shapes, distributions, strict=True)
            ]
            gained = sum(one - other for one, other in zip(hazards, before, strict=True))
            return np.log(shapes[0] * hazards[0]) - gained

        low, high = np.log(start), np.log(end)
        found = integral(log_density, low, high, args=(high, low), log=True, rtol=math.log(1e-10))
        return np.asarray(found.integral).real

    yield Case(f"competing_risks._mode: {n} intervals", lambda: competing_risks._mode(shapes, tops, width), mode)
    yield Case(
        f"competing_risks._lower_reach: {n} intervals",
        lambda: competing_risks._lower_reach(shapes, tops, width, back),
        left,
    )
    yield Case(
        f"competing_risks.IntervalFailures.of: {n} intervals, tanhsinh",
        lambda: competing_risks.IntervalFailures.of(start, end, distributions).value,
        chance,
    )


def of_regression(n: int) -> Iterator[Case]:
    """The estimate of a regression, and the end of a coefficient's interval."""
    lives = mixed_lives(2, n)
    x = np.random.default_rng(3).normal(size=(len(lives), 3))
    found = regression.fit_regression(lives, x)
    model, theta = found._maximum.model, regression._start(lives, 3, found._maximum.model.unit)

    def trust_exact() -> FloatArray:
        answer = minimize(
            lambda t: -model.evaluate(t)[0], theta, method="trust-exact",
            jac=lambda t: -model.evaluate(t)[1], hess=lambda t: -model.evaluate(t)[2], options={"gtol": 1e-7},
        )  # fmt: skip
        return np.asarray(answer.x)

    yield Case(
        f"regression._newton_ascent: {n} lives", lambda: regression._newton_ascent(model.evaluate, theta), trust_exact
    )
    place, drop = 1, 1.645
    spread = float(found._maximum.spread[0])
    centre, error = float(found.coefficients[1]) * spread, float(found.standard_errors[1]) * spread
    others = np.delete(found._maximum.theta, place)

    def over(at: FloatArray) -> FloatArray:
        return np.array([_over(float(one)) for one in at.ravel()]).reshape(at.shape)

    def _over(at: float) -> float:
        along = found._maximum._along(place, at)
        highest = model.evaluate(found._maximum.theta)[0]
        value = along(regression._newton_ascent(along, others))[0]
        return math.sqrt(max(0.0, 2 * (highest - value))) - drop

    close = {"xatol": 1e-6 * error, "xrtol": 0.0, "fatol": regression.CLOSE, "frtol": 0.0}
    bracket = np.array(centre + drop * error / 2), np.array(centre + 2 * drop * error)
    yield Case(
        f"regression._Maximum.end: {n} lives",
        lambda: found._maximum.end(place, centre, error, drop),
        lambda: find_root(over, bracket, tolerances=close).x,
    )


def of_replacement() -> Iterator[Case]:
    """The log hazards at the cheapest ages of some distributions, one after the other, as they are asked for."""
    asked = [(shape, 1.0, ratio) for shape in (1.2, 1.6, 2.0, 2.5, 3.5) for ratio in (2.0, 5.0, 20.0, 100.0)]

    def condition(y: float, shape: float, goal: float) -> float:
        if y < math.log(replacement.SERIES_UP_TO):
            return math.log(replacement._early_condition(shape, math.exp(y))) - goal
        mean = float(replacement._log_mean_until(np.array([y]), np.array([shape]))[0])
        product = math.exp(math.log(shape) + (1 - 1 / shape) * y + mean)
        return math.log(max(product + math.expm1(-math.exp(y)), 4 * replacement.EPSILON * product)) - goal

    def each(y: FloatArray, shape: FloatArray, goal: FloatArray) -> FloatArray:
        found = [condition(float(one), float(shape.flat[0]), float(goal.flat[0])) for one in y.ravel()]
        return np.array(found).reshape(y.shape)

    def all_by(solver: Callable[[float, float, float, float], float]) -> Solve:
        def solve() -> list[float]:
            goals = [math.log(planned / (failure - planned)) for _, planned, failure in asked]
            ends = [goal - math.log(shape - 1) for goal, (shape, _, _) in zip(goals, asked, strict=True)]
            high = math.log(replacement.LAST_HAZARD)
            rows = zip(ends, asked, goals, strict=True)
            return [solver(low, high, shape, goal) if condition(high, shape, goal) > 0 else high
                    for low, (shape, _, _), goal in rows]  # fmt: skip

        return solve

    def chandrupatla(low: float, high: float, shape: float, goal: float) -> float:
        return float(root_of(each, np.array(low), np.array(high), np.array(shape), np.array(goal)))

    def brent(low: float, high: float, shape: float, goal: float) -> float:
        return brentq(condition, low, high, args=(shape, goal), xtol=1e-14)

    def own() -> list[float]:
        return [min(replacement._best_log_hazard(*one), math.log(replacement.LAST_HAZARD)) for one in asked]

    name = f"replacement._best_log_hazard: {len(asked)} draws"
    yield Case(name, own, all_by(chandrupatla))
    yield Case(f"{name}, brentq", own, all_by(brent))


def of_slips(n: int) -> Iterator[Case]:
    """The power with which slips count, from n runs."""
    rng = np.random.default_rng(5)
    usual, hazard = rng.gamma(1.0, 2.0, n), rng.gamma(1.0, 0.05, n)
    slips = rng.poisson(usual * rng.gamma(2.0, 0.5, n)).astype(float)
    broke = rng.random(n) < -np.expm1(-hazard * np.exp(log_factor(slips, usual, 1.0)))

    def less_likely(b: float) -> float:
        log = log_factor(slips, usual, b)
        return float(broke.sum() * np.log((hazard * np.exp(log)).sum()) - log[broke].sum() + b / STRENGTH_MEAN)

    def each(b: FloatArray) -> FloatArray:
        return np.array([less_likely(float(one)) for one in b.ravel()]).reshape(b.shape)

    def bounded() -> float:
        limits = (0.0, MOST_STRENGTH)
        return float(minimize_scalar(less_likely, bounds=limits, method="bounded", options={"xatol": 1e-3}).x)

    close = {"xatol": 1e-3, "xrtol": 0.0, "fatol": 0.0, "frtol": 0.0}
    bracket = np.array(0.0), np.array(1.0), np.array(MOST_STRENGTH)
    yield Case(
        f"slip_model._strength: {n} runs, find_minimum",
        bounded,
        lambda: find_minimum(each, bracket, tolerances=close).x,
    )


def of_turnbull() -> Iterator[Case]:
    """Shares of failures of two modes, by plain EM steps or by those steps with Aitken's acceleration."""
    lives = lives_of_two_modes(87)
    cells, ways = turnbull.Cells.of(lives), [lives.is_failure & (lives.mode == mode) for mode in lives.modes()]
    start = np.tile((cells.sum_over_lives(cells.weight) > 0) / (len(ways) * len(cells.ends)), (len(ways), 1))

    def plain() -> FloatArray:
        share = start
        for _ in range(turnbull.EM_STEPS):
            before, share = share, turnbull._consistent(cells, share, ways)
            if np.abs(share - before).max() < turnbull.EM_DONE:
                break
        return share

    def by_aitken() -> FloatArray:
        return np.asarray(
            accelerated(lambda share: turnbull._consistent(cells, share, ways), start, xtol=turnbull.EM_DONE)
        )

    yield Case(f"turnbull: {lives.lives} lives, two modes, fixed_point", plain, by_aitken)


def of_pool(lives: int) -> Iterator[Case]:
    """The maxima of the log posterior for all hyperparameters, by Newton steps together or one after the other."""
    shared = design(GROUPS, hyperparameter_grid("break"))
    likelihood = ModeLikelihood(shop(lives), "break", len(GROUPS))
    curvature = Hessian(shared, likelihood.cells)
    frailty = np.array([one.frailty for one in shared.hyperparameters])
    start = pool._start(likelihood, shared)
    few = np.arange(len(frailty)) < 4

    def ours() -> FloatArray:
        return pool._ascended(likelihood, curvature, frailty, start, 1e-3).effects[few]

    def theirs() -> FloatArray:
        return np.stack([one_by_one(int(k)) for k in np.flatnonzero(few)])

    def one_by_one(k: int) -> FloatArray:
        which = np.arange(len(frailty)) == k
        own, bend = shared.subset(which), curvature.subset(which)

        def at(effects: FloatArray) -> LogLikelihood:
            here = effects[None]
            return likelihood.log_likelihood(here @ own.shape.T, here @ own.scale.T, frailty[which])

        def slope(effects: FloatArray) -> FloatArray:
            terms = at(effects)
            return -(terms.by_b @ own.shape + terms.by_m @ own.scale - (effects - own.mean) / own.sd**2)[0]

        answer = minimize(
            lambda x: -float(newton.log_posterior(at(x), own, x[None])[0]), start[k], method="trust-exact",
            jac=slope, hess=lambda x: bend.at(at(x))[0], options={"gtol": 1e-4},
        )  # fmt: skip
        return np.asarray(answer.x)

    yield Case(f"newton_ascent: {lives} lives, {len(frailty)} hyperparameter settings against 4", ours, theirs)
