"""Newton's way to the top of a log posterior of the effects, for every setting at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from shopfloor.core.errors import NotConverged
from shopfloor.core.hierarchical.inference.hessian import Curvature
from shopfloor.core.hierarchical.model.design import Design
from shopfloor.core.hierarchical.model.frailty import Terms
from shopfloor.core.survival.censored_data import FloatArray

LONGEST_STEP = 1.5
"""In logs; a longer one would leave the range in which the curve at hand tells anything."""

MOST_HALVINGS = 30


@dataclass(frozen=True, eq=False)
class Place:
    """Where a climb has come to.

    Attributes
    ----------
    effects : (k, p)
    terms            of the likelihood there
    height : (k,)    of the log posterior, but for a constant
    gain, step       largest of the last step; infinite at the start
    """

    effects: FloatArray
    terms: Terms
    height: FloatArray
    gain: float = np.inf
    step: float = np.inf


def climb(at: Callable[[FloatArray], Terms], curvature: Curvature, start: FloatArray) -> Iterator[Place]:
    """The places on the way up, without end.

    All settings take each step together: `scipy.optimize.minimize` (trust-exact, one setting after the other) needs 3
    times as long for less than half of them.

    Parameters
    ----------
    at           the terms of the likelihood at effects, shape (k, p)
    curvature    of the design, which tells what the effects are beforehand

    Raises
    ------
    NotConverged    the way leads to where lives are so certain that rounding hides the rest
    """
    shared = curvature.design

    def place(effects: FloatArray) -> Place:
        terms = at(effects)
        return Place(effects, terms, height(terms, shared, effects))

    here = place(start)
    while True:
        yield here
        terms = here.terms
        slope = terms.by_b @ shared.shape + terms.by_m @ shared.scale - (here.effects - shared.mean) / shared.sd**2
        step = _solved(curvature.at(terms), slope)
        step *= np.minimum(1.0, LONGEST_STEP / np.maximum(np.abs(step).max(axis=1, keepdims=True), 1e-12))
        for _ in range(MOST_HALVINGS):
            there = place(here.effects + step)
            is_lower = ~(there.height >= here.height - 1e-9)
            if not is_lower.any():
                break
            step[is_lower] /= 2
        gain, longest = np.abs(there.height - here.height).max(), np.abs(step).max()
        here = Place(there.effects, there.terms, there.height, float(gain), float(longest))


def height(terms: Terms, shared: Design, effects: FloatArray) -> FloatArray:
    """The log posterior at effects, shape (k, p), but for a constant: shape (k,)."""
    return np.asarray(terms.value - 0.5 * (((effects - shared.mean) / shared.sd) ** 2).sum(axis=1))


def _solved(precision: FloatArray, slope: FloatArray) -> FloatArray:
    try:
        return np.asarray(np.linalg.solve(precision, slope[..., None])[..., 0])
    except np.linalg.LinAlgError as error:
        raise NotConverged("the posterior of the groups") from error
