"""Random lives for tests: by hypothesis, and by a seeded generator that knows the truth."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import strategies as st

from shopfloor.core.survival.censored_data import Lives

AGES = st.one_of(st.integers(1, 600).map(float), st.floats(0.1, 1e9))
Life = tuple[float, float, float, int]


@st.composite
def one_life(draw: st.DrawFn) -> Life:
    """(lower, upper, entry, count) of any kind that may be."""
    first, second, third = sorted(draw(AGES) for _ in range(3))
    entry = first if draw(st.booleans()) and first < second else 0.0
    kind = draw(st.sampled_from(["exact", "survivor", "interval", "found failed"]))
    count = draw(st.sampled_from([1, 1, 1, 2, 30]))
    if kind == "exact":
        return second, second, entry, count
    if kind == "survivor":
        return second, math.inf, entry, count
    if kind == "found failed" or second == third:
        return entry, second, entry, count
    return second, third, entry, count


def lives_from(rows: list[Life]) -> Lives:
    """The lives of these rows."""
    lower, upper, entry, count = zip(*rows, strict=True) if rows else ((), (), (), ())
    return Lives.of(lower, upper, entry, count=count)


any_lives = st.lists(one_life(), max_size=12).map(lives_from)


def mixed_lives(seed: int, n: int, shape: float = 2.5, scale: float = 400.0) -> Lives:
    """About n lives from a Weibull distribution: exact, inspected, still good, and part-used when first seen."""
    rng = np.random.default_rng(seed)
    life = scale * rng.weibull(shape, 3 * n)
    entry = np.where(rng.random(3 * n) < 0.3, rng.uniform(0, 0.5 * scale, 3 * n).round(), 0.0)
    stop = np.maximum(rng.uniform(0.3, 1.8, 3 * n) * scale, entry + 1)
    kept = np.flatnonzero(life > entry)[:n]
    life, entry, stop = life[kept], entry[kept], stop[kept]
    inspected = rng.random(len(kept)) < 0.4
    found, last_good = np.floor(life / 50) * 50 + 50, np.floor(np.minimum(life, stop) / 50) * 50
    failed = np.where(inspected, found, life) <= stop
    lower = np.where(inspected, np.maximum(last_good, entry), np.minimum(life, stop))
    upper = np.where(failed, np.where(inspected, found, life), np.inf)
    return Lives.of(lower, upper, entry)


def lives_of_two_modes(seed: int) -> Lives:
    """Few to many lives that break or wear, many of them seen at inspections only."""
    rng = np.random.default_rng(seed)
    lives = mixed_lives(seed, int(rng.integers(4, 30)), float(np.exp(rng.uniform(-0.7, 2.2))))
    mode = np.where(lives.is_failure, np.where(rng.random(len(lives)) < 0.5, "break", "wear"), "")
    return Lives.of(lives.lower, lives.upper, lives.entry, mode=mode.tolist())
