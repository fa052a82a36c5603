"""How high the truth stands among the posterior's draws: evenly spread over many shops where the posterior is honest.

Reference: S. Talts, M. Betancourt, D. Simpson, A. Vehtari & A. Gelman, Validating Bayesian inference algorithms with
simulation-based calibration, 2018 (arXiv 1804.06788).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from shopfloor.core.hierarchical.inference.posterior import Posterior, posteriors
from shopfloor.core.hierarchical.prediction.draws import Draws, draw, weights
from shopfloor.core.survival.censored_data import FloatArray
from tests.core.hierarchical.prior_shops import PriorShop, TrueLaw

FIGURES = ("log scale", "log shape", "life at 10 %", "risk of the next 50")
NEXT = 50.0

Drawing = Callable[[Posterior, int], Draws]
"""Draws for one condition, by its index."""


@dataclass(frozen=True)
class Standing:
    """Where the truth of one condition stands among the draws: the share of weight below it, by figure."""

    failures: int
    of: tuple[float, ...]


def as_drawn(known: Posterior, place: int) -> Draws:
    """The draws that the pages use."""
    return draw(known, [known.design.conditions[place]])


def standings(shop: PriorShop, mode: str, drawing: Drawing = as_drawn) -> Iterator[Standing]:
    """The truth's standing in every condition of a shop."""
    known = posteriors(shop.histories, shop.conditions, list(shop.laws))[mode]
    for place in range(len(shop.conditions)):
        yield standing(known, shop.laws[mode], place, drawing)


def standing(known: Posterior, truth: TrueLaw, place: int, drawing: Drawing = as_drawn) -> Standing:
    """The truth's standing in one condition."""
    laws = drawing(known, place)
    weight = weights([laws])
    pairs = zip(_figures(laws), _figures(_as_laws(truth, place)), strict=True)
    shares = (weight @ ((drawn < true) + 0.5 * (drawn == true)) for drawn, true in pairs)
    return Standing(int(known.own.failures[place]), tuple(float(share) for share in shares))


def _as_laws(law: TrueLaw, place: int) -> Draws:
    shape, scale = ([[values[place]]] for values in (law.log_shape, law.log_scale))
    return Draws(np.array(shape), np.array(scale), np.array([law.frailty]), np.zeros(1))


def _figures(laws: Draws) -> tuple[FloatArray, ...]:
    b, m, frailty = laws.log_shape[:, -1], laws.log_scale[:, -1], laws.frailty
    a = -np.log(0.9)
    safe = np.where(frailty > 0, frailty, 1.0)
    hazard = np.where(frailty > 0, np.expm1(safe * a) / safe, a)
    return m, b, m + np.log(hazard) * np.exp(-b), -np.expm1(-laws.cumulative_hazard(np.array([NEXT]))[:, 0])
