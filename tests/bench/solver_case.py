"""A problem with two ways to its answer: the core's own solver, and one of scipy."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from scipy import optimize
from scipy.integrate import tanhsinh
from scipy.optimize import elementwise

from shopfloor.core.survival.censored_data import FloatArray

TIGHT = {"xatol": 1e-12, "xrtol": 1e-12, "fatol": 0.0, "frtol": 0.0}

Solve = Callable[[], Any]


class Case(NamedTuple):
    """One problem with its two ways to the answer."""

    name: str
    ours: Solve
    theirs: Solve


# As functions of anything: the stubs of scipy want arrays whose number of axes is known.
find_root: Callable[..., Any] = elementwise.find_root
find_minimum: Callable[..., Any] = elementwise.find_minimum
bracket_root: Callable[..., Any] = elementwise.bracket_root
minimize: Callable[..., Any] = optimize.minimize
integral: Callable[..., Any] = tanhsinh
accelerated: Callable[..., Any] = optimize.fixed_point


def root_of(f: Callable[..., FloatArray], low: FloatArray, high: FloatArray, *args: Any) -> FloatArray:
    """The root of each element between its brackets, by Chandrupatla's method."""
    return np.asarray(find_root(f, (low, high), args=args, tolerances=TIGHT).x)
