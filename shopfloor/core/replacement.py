"""When to change a tap in time: the age with the least long-run cost per hole, and what it saves.

Changing at age T, or at failure if that comes first, costs per hole
    g(T) = (Cp S(T) + Cf F(T)) / integral of S from 0 to T,
Cp being the whole cost of a change in time and Cf the whole cost of a failure. Where the hazard does not rise there
is no better age than never.

References: R. Barlow & L. Hunter, Optimum preventive maintenance policies, Operations Research 8 (1960) 90-100;
R. Barlow & F. Proschan, Mathematical Theory of Reliability, 1965, chapter 4.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import gammainc, gammaln, ndtr

from shopfloor.core.errors import InputError, NotConverged
from shopfloor.core.fit import LifeResult, WeibullFit
from shopfloor.core.observations import Evidence, FloatArray
from shopfloor.core.weibull import Weibull, bounded_exp

Gain = Literal["sure", "likely", "none", "unknown"]

LAST_HAZARD = 700.0
"""exp(-700) taps reach an age with this much hazard behind it: changing there is never changing."""

WORTH_SAYING = 0.01
"""A saving below 1 % is no gain. Common practice, no source."""

FEWEST_FAILURES = 3
"""With fewer the shape, and so any saving, is anybody's guess. Common practice, no source."""

LIKELY = 0.8
"""How sure a rising hazard must be before a change is suggested. Common practice, no source."""

EPSILON = 2.3e-16

FLAT = 0.02
"""Ages whose cost lies within 2 % of the least are as good. Common practice, no source."""


@dataclass(frozen=True)
class Replacement:
    """The cheapest age to change (None: only at failure), costs per hole, and the share of them that it saves."""

    age: float | None
    cost_per_hole: float
    cost_per_hole_run_to_failure: float
    saving: float
    chance_of_failure_before: float


@dataclass(frozen=True)
class ReplacementAdvice:
    """A replacement with how sure it is.

    Attributes
    ----------
    plan : Replacement or None            None where there is no fit
    saving_interval : (low, high)         saving of the suggested age over all laws that the data do not contradict;
                                          where none is suggested, of the best age under each of them
    flat : (from, to) or None             ages whose cost is within 2 % of the least; `to` may be infinite
    gain                                  'sure', 'likely', 'none' or 'unknown'
    reason : str                          the same in a sentence
    """

    plan: Replacement | None
    saving_interval: tuple[float, float] | None
    flat: tuple[float, float] | None
    gain: Gain
    reason: str
    evidence: Evidence
    level: float


def cost_per_hole(weibull: Weibull, age: float, cost_planned: float, cost_failure: float) -> float:
    """Long-run cost per hole when taps are changed at this age (above 0) or at failure; infinite age: at failure."""
    if math.isinf(age):
        return cost_failure / weibull.mean
    log_hazard = np.array([weibull.shape * math.log(age / weibull.scale)])
    return float(_cost(log_hazard, np.array([weibull.shape]), cost_planned, cost_failure)[0]) / weibull.scale


def replacement_age(weibull: Weibull, cost_planned: float, cost_failure: float) -> Replacement:
    """The age at which changing a tap in time is cheapest per hole in the long run.

    Parameters
    ----------
    weibull : Weibull                     life in holes
    cost_planned, cost_failure : float    whole cost of a change in time and of a failure, any one currency, above 0

    Returns
    -------
    Replacement     `age` None where the hazard does not rise, where a failure costs no more than a change, or where
                    practically no tap would reach the best age

    Raises
    ------
    InputError      a cost that is not finite and above 0; names it

    Notes
    -----
    Root of h(T) * integral of S - F(T) = Cp / (Cf - Cp), solved in logs of the cumulative hazard.

    References
    ----------
    Barlow & Hunter 1960, equation for policy I; Barlow & Proschan 1965, chapter 4, theorem 2.1

    Examples
    --------
    >>> plan = replacement_age(Weibull(2.5, 1000), cost_planned=1, cost_failure=5)
    >>> round(plan.age, 2), round(plan.saving, 4)
    (493.05, 0.3857)
    """
    _check_costs(cost_planned, cost_failure)
    at_failure = cost_failure / weibull.mean
    log_hazard = _best_log_hazard(weibull.shape, cost_planned, cost_failure)
    log_age = math.log(weibull.scale) + log_hazard / weibull.shape
    if log_hazard > math.log(LAST_HAZARD) or abs(log_age) > 700:
        return Replacement(None, at_failure, at_failure, 0.0, 1.0)
    age = math.exp(log_age)
    cost = cost_per_hole(weibull, age, cost_planned, cost_failure)
    return Replacement(age, cost, at_failure, max(0.0, 1 - cost / at_failure), -math.expm1(-math.exp(log_hazard)))


def advise_replacement(fit: LifeResult, cost_planned: float, cost_failure: float) -> ReplacementAdvice:
    """Whether to change such taps in time, at which age, what that saves and how sure it is.

    Parameters
    ----------
    fit : WeibullFit or NotEnoughData     life in holes
    cost_planned, cost_failure : float    whole cost of a change in time and of a failure, any one currency, above 0

    Raises
    ------
    InputError      a cost that is not finite and above 0; names it
    """
    _check_costs(cost_planned, cost_failure)
    if not isinstance(fit, WeibullFit):
        reason = f"Not enough failures to tell: {fit.reason}"
        return ReplacementAdvice(None, None, None, "unknown", reason, fit.evidence, fit.level)
    plan = replacement_age(fit.weibull, cost_planned, cost_failure)
    if plan.age is None:
        saving = (0.0, _best_saving(fit, cost_planned, cost_failure))
        flat = None
    else:
        saving = _saving_range(fit, plan.age, cost_planned, cost_failure)
        flat = _flat_region(fit.weibull, plan, cost_planned, cost_failure)
    gain, reason = _verdict(fit, plan, saving, cost_planned, cost_failure)
    return ReplacementAdvice(plan, saving, flat, gain, reason, fit.evidence, fit.level)


def _check_costs(cost_planned: float, cost_failure: float) -> None:
    for name, cost in (("cost_planned", cost_planned), ("cost_failure", cost_failure)):
        if not (math.isfinite(cost) and cost > 0):
            raise InputError.of(name, f"{cost:g} is no cost", "give a finite amount above 0")


def _log_mean_until(log_hazard: FloatArray, shape: FloatArray) -> FloatArray:
    """log of the integral of S from 0 to T, over the scale: Gamma(1 + 1/b) P(1/b, H(T))."""
    part = gammainc(1 / shape, bounded_exp(log_hazard))
    return np.asarray(gammaln(1 + 1 / shape) + np.log(np.maximum(part, 1e-300)))


def _cost(log_hazard: FloatArray, shape: FloatArray, cost_planned: float, cost_failure: float) -> FloatArray:
    """g(T) times the scale, for log H(T)."""
    failed = -np.expm1(-bounded_exp(log_hazard))
    per_cycle = cost_planned + (cost_failure - cost_planned) * failed
    return np.asarray(per_cycle * np.exp(-_log_mean_until(log_hazard, shape)))


def _best_log_hazard(shape: float, cost_planned: float, cost_failure: float) -> float:
    """log H at the cheapest age; infinite where there is none.

    The log of the optimality condition rises with log H, ever less steeply: Newton steps from below stay below.
    """
    if shape <= 1 or cost_failure <= cost_planned:
        return math.inf
    goal = math.log(cost_planned / (cost_failure - cost_planned))
    b = np.array([shape])
    y = goal - math.log(shape - 1)
    for _ in range(100):
        if y > math.log(LAST_HAZARD):
            return math.inf
        product = math.exp(math.log(shape) + (1 - 1 / shape) * y + float(_log_mean_until(np.array([y]), b)[0]))
        is_early = y < math.log(SERIES_UP_TO)
        rounding = 0.0 if is_early else 4 * EPSILON * product
        condition = _early_condition(shape, math.exp(y)) if is_early else product + math.expm1(-math.exp(y))
        condition = max(condition, rounding)
        step = (goal - math.log(condition)) * condition / (product * (1 - 1 / shape))
        y += step
        if abs(step) < EPSILON * (100 + abs(y)) + rounding / (product * (1 - 1 / shape)):
            return y
    raise NotConverged("the cheapest age to change")


SERIES_UP_TO = 0.5
SERIES_TERMS = 20
"""At a cumulative hazard of 0.5 the next term is below 1e-24 of the first."""


def _early_condition(shape: float, hazard: float) -> float:
    """h(T) * integral of S - F(T) at a small cumulative hazard H, where the difference itself would lose its digits.

    Both power series in H, subtracted term by term: (k - 1) * sum of (-1)^(m-1) H^m / (m! ((m-1) k + 1)).
    """
    terms = ((-1) ** (m - 1) * hazard**m / (math.factorial(m) * ((m - 1) * shape + 1)) for m in range(1, SERIES_TERMS))
    return (shape - 1) * math.fsum(terms)


def _best_saving(fit: WeibullFit, cost_planned: float, cost_failure: float) -> float:
    """Largest saving that a shape within its interval allows: it grows with the shape, whatever the scale."""
    steepest = math.exp(fit.region.log_shape_ends[1])
    return replacement_age(Weibull(steepest, 1.0), cost_planned, cost_failure).saving


def _saving_range(fit: WeibullFit, age: float, cost_planned: float, cost_failure: float) -> tuple[float, float]:
    """Saving of changing at `age` under every law in the region, on a net over it."""
    shape, c = fit.region.net()
    log_hazard = c + shape * math.log(age / fit.region.likelihood.unit)
    at_failure = cost_failure * np.exp(-gammaln(1 + 1 / shape))
    saving = 1 - _cost(log_hazard, shape, cost_planned, cost_failure) / at_failure
    return float(saving.min()), float(saving.max())


def _flat_region(weibull: Weibull, plan: Replacement, cost_planned: float, cost_failure: float) -> tuple[float, float]:
    """First and last age whose cost is within 2 % of the least; the last is infinite where running to failure is."""
    limit = plan.cost_per_hole * (1 + FLAT)
    best = math.log(plan.age or math.nan)
    ends = []
    for sign in (-1.0, 1.0):
        inside, outside = best, best + sign * 20.0
        if sign > 0 and plan.cost_per_hole_run_to_failure <= limit:
            ends.append(math.inf)
            continue
        for _ in range(60):
            middle = (inside + outside) / 2
            is_flat = cost_per_hole(weibull, math.exp(middle), cost_planned, cost_failure) <= limit
            inside, outside = (middle, outside) if is_flat else (inside, middle)
        ends.append(math.exp(inside))
    return ends[0], ends[1]


def why_no_gain(weibull: Weibull, plan: Replacement, cost_planned: float, cost_failure: float) -> str | None:
    """The sentence that says why changing in time gains nothing under this law; None where it does gain."""
    if cost_failure <= cost_planned:
        return "Nothing to gain: a failure costs no more than a change in time"
    if weibull.shape <= 1:
        return "Nothing to gain: failures come no more often on old taps than on fresh ones"
    if plan.age is None or plan.saving < WORTH_SAYING:
        return "Nothing to gain: changing in time would cost about as much as it saves"
    return None


def _verdict(
    fit: WeibullFit, plan: Replacement, saving: tuple[float, float], cost_planned: float, cost_failure: float
) -> tuple[Gain, str]:
    """How sure the gain is, and why, in words that an operator can read."""
    failures = fit.evidence.failures
    if failures < FEWEST_FAILURES and cost_failure > cost_planned:
        return "unknown", f"Too few failures ({failures}) to say whether changing in time saves"
    why_not = why_no_gain(fit.weibull, plan, cost_planned, cost_failure)
    if why_not is not None:
        return "none", why_not
    if saving[0] > 0:
        return "sure", "Changing in time saves: failures come more often on old taps, and they cost more"
    chance_rising = float(ndtr(-fit.region.signed_root(0.0)))
    if chance_rising >= LIKELY:
        return "likely", "Changing in time probably saves: failures seem to come more often on old taps"
    return "unknown", "Too early to tell: the failures so far do not show that old taps fail more often"
