"""How often the goodness-of-fit test doubts true Weibull lives, and others: `python -m tests.bench.bench_goodness`.

At a level of 10 % about one log of ten sampled from a Weibull distribution should be doubted; of other logs, many.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.weibull_fit.fit import fit_weibull
from shopfloor.core.weibull_fit.goodness_of_fit import goodness_of_fit
from tests.core.random_lives import mixed_lives

LOGS, DRAWS = 400, 199


def survivors_too(seed: int) -> Lives:
    """20 taps, taken off at random."""
    rng = np.random.default_rng(seed)
    life, stop = 400 * rng.weibull(2.5, 20), rng.uniform(100, 700, 20)
    return Lives.of(np.minimum(life, stop), np.where(life <= stop, life, np.inf))


def complete(seed: int) -> Lives:
    """10 taps, all followed to failure."""
    ages = 400 * np.random.default_rng(seed).weibull(1.5, 10)
    return Lives.of(ages, ages)


def mixed(seed: int) -> Lives:
    """60 taps, some seen at inspections only, some part-used."""
    return mixed_lives(seed, 60)


def two_lots(seed: int) -> Lives:
    """40 taps, 2 of 5 from a bad lot: no Weibull distribution."""
    rng = np.random.default_rng(seed)
    ages = np.where(rng.random(40) < 0.4, 100 * rng.weibull(3, 40), 1000 * rng.weibull(4, 40))
    return Lives.of(ages, ages)


def lognormal(seed: int) -> Lives:
    """50 taps whose lives follow another distribution, similar to a Weibull."""
    ages = 400 * np.exp(0.5 * np.random.default_rng(seed).standard_normal(50))
    return Lives.of(ages, ages)


def report(make: Callable[[int], Lives]) -> None:
    """Shares of logs with a chance of at most 5, 10 and 50 %."""
    found = []
    for seed in range(LOGS):
        lives = make(seed)
        chance = goodness_of_fit(lives, fit_weibull(lives), DRAWS).chance
        if chance is not None:
            found.append(chance)
    shares = ", ".join(f"{100 * np.mean(np.array(found) <= level):.1f} % at {level:.0%}" for level in (0.05, 0.1, 0.5))
    print(f"{(make.__doc__ or '').splitlines()[0]:75}{shares}", flush=True)


def main() -> None:
    """Three kinds of Weibull logs, two of others."""
    for make in (survivors_too, complete, mixed, two_lots, lognormal):
        report(make)


if __name__ == "__main__":
    main()
