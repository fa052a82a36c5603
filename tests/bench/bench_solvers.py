"""CPU time of the core's own solvers against those of scipy: `python -m tests.bench.bench_solvers`.

Each row solves one problem of the size that the benches of fits and of the pool have, by the core's solver and by
scipy's, in turn within one run. `ratio` is scipy's median CPU time over the core's, `apart` the largest difference
between the answers (relative, where they are larger than 1). A ratio above 1 keeps the core's own solver.
"""

from __future__ import annotations

import gc
import statistics
import time
from collections.abc import Iterator

import numpy as np

from shopfloor.core.weibull_fit.likelihood import Likelihood
from shopfloor.core.weibull_fit.maximise import LOG_SHAPES
from tests.bench.bench_fits import right_censored
from tests.bench.solver_case import Case, Solve
from tests.bench.solvers_elsewhere import of_competing, of_pool, of_regression, of_replacement, of_slips, of_turnbull
from tests.bench.solvers_of_likelihood import grouped, of_many, of_one, of_slices
from tests.core.random_lives import mixed_lives

ROUNDS = 15


def cases() -> Iterator[Case]:
    """All of them."""
    mixed = mixed_lives(1, 200)
    likelihood = Likelihood(mixed)
    yield from of_slices("16 shapes, 200 lives", likelihood.at(np.exp(LOG_SHAPES)))
    yield from of_slices("64 shapes, 200 lives", likelihood.at(np.geomspace(1.0, 5.0, 64)))
    yield from of_one("20 lives, exact", right_censored(20))
    yield from of_one("200 lives, mixed", mixed)
    yield from of_many(grouped(2000, 30), 2000)
    yield from of_competing(200)
    yield from of_regression(2000)
    yield from of_replacement()
    yield from of_slips(2000)
    yield from of_turnbull()
    yield from of_pool(480)


def cpu_ms(solve: Solve) -> float:
    """CPU time of one solution."""
    start = time.process_time()
    solve()
    return 1000 * (time.process_time() - start)


def main() -> None:
    """Print the table."""
    print(f"{'solver':62} {'core ms':>9} {'scipy ms':>9} {'ratio':>7} {'apart':>9}")
    for case in cases():
        with np.errstate(all="ignore"):
            one, other = (np.asarray(solve(), float) for solve in (case.ours, case.theirs))
            apart = float(np.abs((one - other) / np.maximum(np.abs(one), 1.0)).max())
            gc.collect()
            times = [(cpu_ms(case.ours), cpu_ms(case.theirs)) for _ in range(ROUNDS)]
        ours, theirs = (statistics.median(column) for column in zip(*times, strict=True))
        print(f"{case.name:62} {ours:9.3f} {theirs:9.3f} {theirs / ours:7.1f} {apart:9.1e}")


if __name__ == "__main__":
    main()
