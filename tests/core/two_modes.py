"""Lives that end by breaking or by wear."""

from __future__ import annotations

import math

import numpy as np

from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.survival.weibull import Weibull

INF = math.inf
BREAK, WEAR = Weibull(2.0, 400.0), Weibull(4.0, 380.0)


def some_lives(seed: int, n: int = 40, step: float = 100.0) -> Lives:
    """Lives with two modes: some looked at every `step` holes only, some part-used at first sight, some survivors."""
    rng = np.random.default_rng(seed)
    breaks, wears = (one.scale * rng.weibull(one.shape, n) for one in (BREAK, WEAR))
    age, mode = np.minimum(breaks, wears), np.where(breaks < wears, "break", "wear")
    entry = np.where(rng.random(n) < 0.2, 60.0, 0.0)
    stop = np.maximum(rng.uniform(100, 700, n), entry + 1)
    kept = age > entry
    age, mode, entry, stop = age[kept], mode[kept], entry[kept], stop[kept]
    inspected = rng.random(len(age)) < 0.7
    found = np.where(inspected, np.floor(age / step) * step + step, age)
    failed = found <= stop
    last_look = np.where(inspected, np.floor(np.minimum(age, stop) / step) * step, np.minimum(age, stop))
    lower = np.maximum(last_look, entry)
    return Lives.of(lower, np.where(failed, found, INF), entry, np.where(failed, mode, "").tolist())
