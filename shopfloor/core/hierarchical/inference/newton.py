"""Newton ascent to the maximum of the log posterior of the effects, for every hyperparameter setting at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from shopfloor.core.errors import NotConverged
from shopfloor.core.hierarchical.inference.hessian import Hessian
from shopfloor.core.hierarchical.model.design import Design
from shopfloor.core.hierarchical.model.frailty import LogLikelihood
from shopfloor.core.survival.censored_data import FloatArray

LONGEST_STEP = 1.5
"""In logs; beyond it the local quadratic approximation is worthless."""

MOST_HALVINGS = 30


@dataclass(frozen=True, eq=False)
class Iterate:
    """One iterate of a Newton ascent.

    Attributes
    ----------
    effects : (k, p)
    log_likelihood          there, with derivatives
    log_posterior : (k,)    up to a constant
    gain, step              largest gain of the log posterior and largest move in the last step; at first infinite
    """

    effects: FloatArray
    log_likelihood: LogLikelihood
    log_posterior: FloatArray
    gain: float = np.inf
    step: float = np.inf


def newton_ascent(at: Callable[[FloatArray], LogLikelihood], hessian: Hessian, start: FloatArray) -> Iterator[Iterate]:
    """The iterates of a Newton ascent with step halving, without end.

    All settings take each step together: `scipy.optimize.minimize` (trust-exact, one setting after the other) needs 3
    times as long for less than half of them.

    Parameters
    ----------
    at : callable      log-likelihood and derivatives at effects of shape (k, p)
    hessian            of the design, which also holds the prior
    start : (k, p)     effects to start from

    Raises
    ------
    NotConverged       the precision became singular: lives so certain that rounding hides the rest
    """
    shared = hessian.design

    def place(effects: FloatArray) -> Iterate:
        log_likelihood = at(effects)
        return Iterate(effects, log_likelihood, log_posterior(log_likelihood, shared, effects))

    here = place(start)
    while True:
        yield here
        log_likelihood = here.log_likelihood
        slope = (
            log_likelihood.by_b @ shared.shape
            + log_likelihood.by_m @ shared.scale
            - (here.effects - shared.mean) / shared.sd**2
        )
        step = _solved(hessian.at(log_likelihood), slope)
        step *= np.minimum(1.0, LONGEST_STEP / np.maximum(np.abs(step).max(axis=1, keepdims=True), 1e-12))
        for _ in range(MOST_HALVINGS):
            there = place(here.effects + step)
            is_lower = ~(there.log_posterior >= here.log_posterior - 1e-9)
            if not is_lower.any():
                break
            step[is_lower] /= 2
        gain, longest = np.abs(there.log_posterior - here.log_posterior).max(), np.abs(step).max()
        here = Iterate(there.effects, there.log_likelihood, there.log_posterior, float(gain), float(longest))


def log_posterior(log_likelihood: LogLikelihood, shared: Design, effects: FloatArray) -> FloatArray:
    """The log posterior up to a constant, shape (k,).

    Parameters
    ----------
    log_likelihood      at the effects
    shared              the design, which holds the prior
    effects : (k, p)
    """
    return np.asarray(log_likelihood.value - 0.5 * (((effects - shared.mean) / shared.sd) ** 2).sum(axis=1))


def _solved(precision: FloatArray, slope: FloatArray) -> FloatArray:
    try:
        return np.asarray(np.linalg.solve(precision, slope[..., None])[..., 0])
    except np.linalg.LinAlgError as error:
        raise NotConverged("the posterior of the groups") from error
