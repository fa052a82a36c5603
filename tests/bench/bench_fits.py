"""Time of a fit, ours against four packages, and of many at once: `python -m tests.bench.bench_fits`.

Measured in one run, not asserted: the best of several rounds for each, and how many times longer the others take.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.weibull_fit.fit import WeibullFit, fit_weibull
from shopfloor.core.weibull_fit.grouped_fit import fit_many
from shopfloor.core.weibull_fit.regression import fit_regression
from tests.core.random_lives import mixed_lives
from tests.core.weibull_fit.other_fitters import lifelines_fit, quiet, reliability_fit, scipy_fit, surpyval_fit

Fit = Callable[[], float]


def best_of(fit: Fit, rounds: int) -> tuple[float, float]:
    """Shortest time in milliseconds, and the log-likelihood found."""
    shortest, found = np.inf, np.nan
    for _ in range(rounds):
        start = time.perf_counter()
        found = fit()
        shortest = min(shortest, time.perf_counter() - start)
    return 1000 * shortest, found


def right_censored(n: int) -> Lives:
    """n lives followed from new, failures at known holes."""
    rng = np.random.default_rng(n)
    life, stop = 400 * rng.weibull(2.5, n), rng.uniform(100, 700, n)
    return Lives.of(np.minimum(life, stop), np.where(life <= stop, life, np.inf))


def point(lives: Lives) -> float:
    """Ours: point estimates alone."""
    fit = fit_weibull(lives)
    assert isinstance(fit, WeibullFit)
    return fit.log_likelihood


def with_intervals(lives: Lives) -> float:
    """Ours: estimates with calibrated intervals of shape, scale and life at 10 %."""
    fit = fit_weibull(lives)
    assert isinstance(fit, WeibullFit)
    assert fit.shape_interval[0] < fit.shape_interval[1]
    assert fit.scale_interval[0] < fit.scale_interval[1]
    assert fit.life_interval(0.1)[0] < fit.life_interval(0.1)[1]
    return fit.log_likelihood


def many_groups(groups: int, n: int) -> None:
    """Ours on many groups at once; and what one after the other would take."""
    rng = np.random.default_rng(1)
    life, stop = 400 * rng.weibull(2.5, groups * n), rng.uniform(100, 700, groups * n)
    lives = Lives.of(np.minimum(life, stop), np.where(life <= stop, life, np.inf))
    group = np.repeat(np.arange(groups), n)

    def estimates() -> float:
        return float(fit_many(lives, group).log_likelihood.sum())

    def estimates_and_intervals() -> float:
        fits = fit_many(lives, group)
        ends = [*fits.shape_interval, *fits.scale_interval, *fits.life_interval(0.1), *fits.risk_interval(100, 50)]
        assert all(len(end) == len(fits.groups) for end in ends)
        return float(fits.log_likelihood.sum())

    first = lives.rows(np.arange(n))
    alone, _ = best_of(lambda: point(first), 100)
    print(f"{groups:,} groups of {n} lives; one after the other {groups * alone / 1000:.2f} s")
    for name, fit in (("all estimates", estimates), ("with intervals of four figures", estimates_and_intervals)):
        milliseconds, found = best_of(fit, 5)
        print(f"  {name:32}{milliseconds / 1000:8.3f} s   log-likelihood {found:.6f}")


def regression(n: int) -> None:
    """Ours and lifelines' Weibull regression on three covariates, intervals and part-used taps among the lives."""
    from lifelines import WeibullAFTFitter
    from pandas import DataFrame

    lives = mixed_lives(2, n)
    x = np.random.default_rng(3).normal(size=(len(lives), 3))
    columns = {"low": lives.lower, "high": lives.upper, "entry": lives.entry}
    frame = DataFrame(columns | {f"x{i}": x[:, i] for i in range(3)})

    def theirs() -> float:
        fitter = WeibullAFTFitter().fit_interval_censoring(frame, "low", "high", entry_col="entry")
        return float(fitter.log_likelihood_)

    print(f"Regression on three covariates: {lives.lives} lives, {lives.failures} failures")
    ours, found = best_of(lambda: fit_regression(lives, x).log_likelihood, 20)
    other, also = best_of(theirs, 3)
    print(f"  {'ours':24}{ours:10.2f} ms{1:8.1f} x   log-likelihood {found:.7f}")
    print(f"  {'lifelines':24}{other:10.2f} ms{other / ours:8.1f} x   log-likelihood {also:.7f}")


def report(title: str, lives: Lives, fits: dict[str, Callable[[Lives], float]]) -> None:
    """One table: time, how many times ours, log-likelihood."""
    print(f"{title}: {lives.lives} lives, {lives.failures} failures")
    ours = 0.0
    for name, fit in fits.items():
        with quiet():
            milliseconds, found = best_of(lambda fit=fit: fit(lives), 100 if name.startswith("ours") else 10)  # type: ignore[misc]
        ours = ours or milliseconds
        print(f"  {name:24}{milliseconds:10.2f} ms{milliseconds / ours:8.1f} x   log-likelihood {found:.7f}")


def main() -> None:
    """Both kinds of lives, all fitters that can do them."""
    ours = {"ours, estimates only": point, "ours, with intervals": with_intervals}
    any_mix = {"lifelines": lifelines_fit, "surpyval": surpyval_fit}
    for n in (20, 200):
        others = {**any_mix, "reliability": reliability_fit, "scipy": scipy_fit}
        report("Right-censored", right_censored(n), {**ours, **others})
    report("Intervals, part-used taps", mixed_lives(1, 200), {**ours, **any_mix})
    many_groups(2000, 30)
    regression(2000)


if __name__ == "__main__":
    main()
