"""Small simulated shops for the pooled posterior."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from shopfloor.core.hierarchical.model.conditions import Condition, Histories, History, IntArray, Use
from shopfloor.core.survival.censored_data import FloatArray, Lives
from shopfloor.core.vocabulary import IsoGroup

CONDITIONS = (
    Condition("A", "mild", IsoGroup.P, 6.0),
    Condition("A", "mild", IsoGroup.P, 12.0),
    Condition("A", "austenitic", IsoGroup.M, 6.0),
    Condition("B", "cast", IsoGroup.K, 9.0),
)
SCALES = np.array([700.0, 330.0, 220.0, 500.0])

TOLD = [
    History((Use(0, 100), Use(2, 50), Use(0, 30)), 120, 180, entry=20, mode="break"),
    History((Use(1, 90), Use(3, 40)), 70, 130, mode="wear"),
    History((Use(1, 400),), 200, 400, mode="wear"),
    History((Use(0, 300),), 250, 300, mode="break"),
    History((Use(0, 100),), 0, 100, mode="break"),
    History((Use(2, 100), Use(0, 40)), 140, np.inf),
    History((Use(2, 100), Use(0, 40)), 140, 140, mode="break"),
    History((Use(3, 90),), 90, 90, mode="wear"),
]
"""Lives over several conditions, with failures of both modes within intervals."""


def some_lives(seed: int, per_condition: int = 12, shape: float = 2.2) -> tuple[Lives, IntArray]:
    """Lives of every kind, and the condition of each; none from `per_condition` = 0 on."""
    rng = np.random.default_rng(seed)
    condition = np.repeat(np.arange(len(CONDITIONS)), per_condition)
    n = len(condition)
    age = np.ceil(SCALES[condition] * rng.exponential(size=n) ** (1 / shape))
    entry = np.where(rng.random(n) < 0.2, np.minimum(30.0, age - 1), 0.0)
    kind = rng.integers(0, 4, n)
    lower = np.where(kind == 1, np.maximum(np.floor((age - 1) / 25) * 25, entry), age)
    upper = np.where(kind == 0, np.inf, np.where(kind == 1, np.maximum(np.ceil(age / 25) * 25, lower + 1), age))
    lower = np.where(kind == 0, np.maximum(np.ceil(0.7 * age), entry + 1), lower)
    modes = ["" if k == 0 else ("wear" if k == 3 else "break") for k in kind]
    return Lives.of(lower, upper, entry, modes), condition


def subset(lives: Lives, which: ArrayLike) -> Lives:
    """The lives of these rows."""
    rows = np.asarray(which)
    return Lives(*(getattr(lives, name)[rows] for name in ("lower", "upper", "entry", "mode", "count")))


def plain(seed: int, per_condition: int = 12, shape: float = 2.2) -> Histories:
    """The same as histories."""
    lives, condition = some_lives(seed, per_condition, shape)
    return Histories.plain(lives, condition)


def points(seed: int, settings: int = 3) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Some log shapes and log scales, shape (k, c), and frailties, shape (k,)."""
    rng = np.random.default_rng(seed)
    b = 0.7 + 0.2 * rng.standard_normal((settings, len(CONDITIONS)))
    m = np.log(SCALES) + 0.2 * rng.standard_normal((settings, len(CONDITIONS)))
    return b, m, np.array([0.0, 0.5, 1.3][:settings])
