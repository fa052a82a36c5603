"""Whether 90 % intervals hold their level with few failures: `python -m tests.bench.bench_coverage`.

Simulated groups of lives, fitted all at once by `fit_many`; for every figure how often the interval holds the truth,
and how often it misses on either side, on the average over designs and in the worst one. A design is a kind of log, a
share of survivors and a true shape:

- failures: taps are followed, each until it fails or until a random age, up to the wanted number of failures
- lives: a given number of taps, so that the number of failures varies about the wanted one (2 or more)
- one-age: as `lives`, but every tap is left at the same age
- last-failure: the same number of taps, all left when the last wanted failure comes
- intervals: as `failures`, but half of the taps are only looked at every quarter of the scale
- part-used: as `failures`, but 3 of 10 taps had already made up to half the scale when they were first seen
"""

from __future__ import annotations

import argparse
import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq

from shopfloor.core.survival.censored_data import FloatArray, Lives
from shopfloor.core.survival.weibull import Weibull
from shopfloor.core.weibull_fit.grouped_fit import Interval, ManyFits, fit_many

SCALE = 400.0
KINDS = ("failures", "lives", "one-age", "last-failure", "intervals", "part-used")
OF_LIVES = ("lives", "one-age", "last-failure")
"""Kinds with a given number of taps."""
SHAPES, SURVIVING, FAILURES = (1.2, 2.0, 3.5), (0.3, 0.7), (3, 5, 10, 20)
NEXT = 50.0


@dataclass(frozen=True)
class Design:
    """How lives come to be seen."""

    kind: str
    shape: float
    surviving: float
    failures: int

    def draw(self, rng: np.random.Generator, groups: int) -> tuple[Lives, FloatArray]:
        """Lives of many groups, and the group of each."""
        n = round(self.failures / (1 - self.surviving)) if self.kind in OF_LIVES else 4 * self._most()
        life, entry, stop = self._taps(rng, groups, n)
        if self.kind == "last-failure":
            stop[:] = np.sort(life, axis=1)[:, self.failures - 1 : self.failures]
        watched = rng.random(life.shape) < (0.5 if self.kind == "intervals" else 0.0)
        look = SCALE / 4
        found = np.where(watched, np.ceil(life / look) * look, life)
        failed = found <= stop
        seen = np.cumsum(failed, axis=1)
        kept = (seen < self.failures) | (failed & (seen == self.failures))
        if self.kind in OF_LIVES:
            kept = np.repeat(seen[:, -1:] >= 2, n, axis=1)
        last_good = np.where(watched, np.maximum(np.floor(np.minimum(life, stop) / look) * look, entry), life)
        lower = np.where(failed, last_good, np.where(watched, last_good, stop))
        upper = np.where(failed, found, np.inf)
        group = np.broadcast_to(np.arange(groups)[:, None], life.shape)
        return Lives.of(lower[kept], upper[kept], entry[kept]), group[kept]

    def _most(self) -> int:
        return math.ceil(self.failures / (1 - self.surviving)) + 8

    def _taps(self, rng: np.random.Generator, groups: int, n: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Age at failure, when first seen, and when left, of taps that were alive when first seen."""
        size = groups * n
        latest = _latest_stop(self.shape, self.surviving)
        columns: list[FloatArray] = []
        while sum(part.shape[1] for part in columns) < size:
            life, stop = SCALE * rng.weibull(self.shape, 2 * size), SCALE * rng.uniform(0, latest, 2 * size)
            if self.kind == "one-age":
                stop[:] = SCALE * (-math.log(self.surviving)) ** (1 / self.shape)
            used = rng.random(2 * size) < (0.3 if self.kind == "part-used" else 0.0)
            entry = np.where(used, SCALE * rng.uniform(0, 0.5, 2 * size), 0.0)
            columns.append(np.stack([life, entry, entry + stop])[:, life > entry])
        life, entry, stop = np.concatenate(columns, axis=1)[:, :size].reshape(3, groups, n)
        return life, entry, stop


def _latest_stop(shape: float, surviving: float) -> float:
    """The u for which taps left at ages uniform up to u scales survive in the wanted share."""

    def excess(u: float) -> float:
        return float(quad(lambda x: math.exp(-(x**shape)), 0, u)[0]) / u - surviving

    return float(brentq(excess, 1e-3, 1e3))


def misses(fits: ManyFits, truth: Weibull) -> Iterator[tuple[str, float, float, float]]:
    """For each figure: how often the interval holds the truth, lies above it, and lies below it, in per cent."""
    figures: list[tuple[str, Interval, float]] = [
        ("shape", fits.shape_interval, truth.shape),
        ("scale", fits.scale_interval, truth.scale),
        ("life at 10 %", fits.life_interval(0.1), float(truth.quantile(0.1))),
        ("survival of half the scale", fits.risk_interval(0, SCALE / 2), float(truth.chance_of_failing(0, SCALE / 2))),
    ]
    for age in (0.0, SCALE / 4, 3 * SCALE / 4):
        risk = float(truth.chance_of_failing(age, NEXT))
        figures.append((f"risk of the next {NEXT:g} at {age:g}", fits.risk_interval(age, NEXT), risk))
    for name, (low, high), value in figures:
        above, below = 100 * float(np.mean(low > value)), 100 * float(np.mean(high < value))
        yield name, 100 - above - below, above, below


def main() -> None:
    """One table for each kind of log and number of failures."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--groups", type=int, default=2000)
    parser.add_argument("--interval", default="calibrated")
    parser.add_argument("--kind", action="append", choices=KINDS)
    parser.add_argument("--failures", type=int, action="append")
    parser.add_argument("--seed", type=int, default=1)
    told = parser.parse_args()
    for kind in told.kind or KINDS:
        for failures in told.failures or FAILURES:
            measure(kind, failures, told.groups, told.interval, told.seed)


def measure(kind: str, failures: int, groups: int, interval: str, seed: int) -> None:
    """Print one table: all shapes and shares of survivors."""
    rng = np.random.default_rng([seed, failures])
    rows: dict[str, list[tuple[float, float, float]]] = defaultdict(list)
    ratios, no_maximum = [], 0
    for shape in SHAPES:
        for surviving in SURVIVING:
            fits = fit_many(*Design(kind, shape, surviving, failures).draw(rng, groups), interval=interval)
            no_maximum += len([one for one in fits.no_maximum.values() if "no failure" not in one.reason])
            ratios.append((np.median(fits.shape) / shape, np.median(fits.most_likely_shape) / shape))
            for name, *found in misses(fits, Weibull(shape, SCALE)):
                rows[name].append((found[0], found[1], found[2]))
    shown, most_likely = np.mean(ratios, axis=0)
    least, most = min(ratio[0] for ratio in ratios), max(ratio[0] for ratio in ratios)
    print(
        f"{kind}, {failures} failures: median shape {shown:.3f} x truth ({least:.2f} to {most:.2f}), "
        f"most likely {most_likely:.3f}; {no_maximum} without a fit"
    )
    for name, of_designs in rows.items():
        held, above, below = np.array(of_designs).T
        print(
            f"  {name:30} held {held.mean():5.1f} % (worst {held.min():5.1f})   "
            f"above the truth at most {above.max():4.1f}   below at most {below.max():4.1f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
