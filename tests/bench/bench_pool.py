"""Time of the pooled posterior and of all advice for a shop of 12 groups, by the number of lives.

python -m tests.bench.bench_pool
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import numpy as np

from shopfloor.core.decision.replacement_age import Costs, best_policy
from shopfloor.core.hierarchical.inference.posterior import posterior
from shopfloor.core.hierarchical.model.conditions import Condition, Histories
from shopfloor.core.hierarchical.prediction.draws import draw
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.vocabulary import IsoGroup

GROUPS = tuple(
    Condition(family, group.value, group, speed)
    for family in ("A", "B")
    for group in (IsoGroup.P, IsoGroup.M, IsoGroup.N)
    for speed in (6.0, 12.0)
)
LIVES = (120, 480, 1920, 7680)
COSTS = Costs(1.0, (10.0,))
REPEATS = 7


def shop(lives: int) -> Histories:
    """So many lives, half of them changed in time, batches of 10 holes."""
    rng = np.random.default_rng(lives)
    group = np.arange(lives) % len(GROUPS)
    age = 10 * np.ceil((300 + 40 * group) * rng.exponential(size=lives) ** (1 / 2.2) / 10)
    failed = rng.random(lives) < 0.5
    told = Lives.of(age, np.where(failed, age, np.inf), mode=np.where(failed, "break", "").tolist())
    return Histories.plain(told, group)


def median_ms(action: Callable[[], object]) -> float:
    """Median time of a action over some repeats, in ms."""
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return 1000 * statistics.median(times)


def timed(lives: int) -> tuple[float, float]:
    """Posterior, advice for every group: ms each."""
    histories = shop(lives)
    known = posterior(histories, GROUPS, "break")
    return (
        median_ms(lambda: posterior(histories, GROUPS, "break")),
        median_ms(lambda: [best_policy([draw(known, [one])], COSTS, 0.9) for one in GROUPS]),
    )


def main() -> None:
    """Print the table."""
    print(f"{'lives':>6} {'posterior ms':>13} {'advice for 12 ms':>17}")
    for lives in LIVES:
        found, advice = timed(lives)
        print(f"{lives:>6} {found:>13.1f} {advice:>17.1f}")


if __name__ == "__main__":
    main()
