"""What makes likelihood intervals hold their level with few failures: a price on steep shapes, a region that leans.

With few failures the likelihood of a Weibull law favours steep shapes: the median estimate from 3 failures is 1.3 times
the truth or more. Three corrections:

- log(shape) is taken off the log-likelihood. For complete lives, and for lives stopped at a given number of failures,
  what is left is (profiled) the marginal likelihood of the shape, free of the scale: Lawless 2003, section 5.1, and
  the restricted likelihood of D. A. Harville, Biometrika 61 (1974) 383-385.
- The signed root of the fall (the root of twice by how much the log-likelihood falls, with the sign of the side) is
  normal with a mean that is not 0 but of the order of 1 over the root of the failures r, so that one side would be
  left out more often than the other (D. A. Pierce & D. Peters, J. Roy. Statist. Soc. B 54 (1992) 701-737). The root
  allowed is larger by that mean on the one side, and smaller on the other. It depends on how lives end, which is
  measured by q, the share of the failures to be expected, at the fitted law, that fell to taps which failed: 1 where
  every tap failed, near 0 where most are left early.
- Its variance is not 1: for exponential lives it is 1 + 1 / (18 r), as M. S. Bartlett's factor 1 + 1 / (6 r) (Proc.
  Roy. Soc. A 160 (1937) 268-282) less the square of the mean 1/3. The fall allowed is larger by that factor.

The means, times the root of r (own derivation from the third derivatives; tests hold them against simulation):

- Where all other taps were left as the last one failed, the number of failures was given and q counts as 1. Other
  logs do not tell how they were ended.
- Towards long lives. Stopped at the r-th failure, r times the hazard over its estimate has a gamma law: 1/3, whatever
  q. With a given number of taps, each left at a time of its own, r is chance as well: q/2 - 1/6, which is 1/3 if all
  fail, and that of Poisson counts if few do. Half of each: 1/12 + q/4.
- Towards steep shapes. If few taps fail, the logs of their ages have an exponential law and the shape a gamma
  likelihood: -1/3, and 1 since the price is not called for, as the marginal likelihood then is the likelihood itself.
  If every tap fails, a third of the third derivative of the marginal likelihood over the second to the power of 3/2:
  for each life those are -psi''(2) - 3 psi'(2) - 1 and psi'(2) + 1, with psi the digamma function: -0.40. In between,
  a straight line in q. Failures known to an interval say less of the shape than the price takes off: own measurement.

`tests/bench/bench_coverage.py` measures how well all that holds.

Where every life was already in use when first seen, the likelihood does not fall as the shape goes to 0, and minus
log(shape) would grow without end. So the price is log(shape + FLATTEST^2 / shape), which is log(shape) for shapes that
taps have, and turns round at FLATTEST.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from shopfloor.core.errors import InputError
from shopfloor.core.survival.censored_data import FloatArray

FLATTEST = 0.25
"""At this shape 7 of 10 taps fail before a tenth of the mean life: tap lives are not like that. Common practice."""

PRICE = 1.0
"""Times log(shape) taken off: see above."""

WIDENING = 1 / 18
"""Failures by which the region is widened: see above."""

FEW_FAIL_LONG, ALL_FAIL_LONG = 1 / 12, 1 / 3
FEW_FAIL_STEEP, ALL_FAIL_STEEP = 2 / 3, -0.40
INTERVAL_STEEP = 0.4
"""By how much the root of the fall is larger, times the root of the failures, towards long lives and steep shapes,
and if all failures are known to intervals: see above."""


@dataclass(frozen=True)
class Adjustment:
    """What is taken off the log-likelihood at a log shape, by how much the allowed fall grows, and where it leans."""

    price: float
    widening: float
    leaning: float

    def value(self, log_shape: FloatArray) -> FloatArray:
        """What is taken off."""
        x = log_shape - math.log(FLATTEST)
        return np.asarray(self.price * (np.logaddexp(x, -x) + math.log(FLATTEST)))

    def slope(self, log_shape: FloatArray) -> FloatArray:
        """Its first derivative by the log shape."""
        return np.asarray(self.price * np.tanh(log_shape - math.log(FLATTEST)))

    def slope_at(self, log_shape: float) -> float:
        """The same at one shape."""
        return self.price * math.tanh(log_shape - math.log(FLATTEST))

    def bend(self, log_shape: FloatArray) -> FloatArray:
        """Its second derivative."""
        return np.asarray(self.price * (1 - np.tanh(log_shape - math.log(FLATTEST)) ** 2))

    def bend_at(self, log_shape: float) -> float:
        """The same at one shape."""
        return self.price * (1 - math.tanh(log_shape - math.log(FLATTEST)) ** 2)

    def factor(self, failures: FloatArray | float) -> FloatArray:
        """How many times the usual fall of the log-likelihood is allowed."""
        return np.asarray(1 + self.widening / np.asarray(failures, float))

    def leans(self, exact: FloatArray, interval: FloatArray, lived: FloatArray) -> tuple[FloatArray, FloatArray]:
        """By how much the root of the fall is larger towards long lives, and steep shapes; smaller on the other side.

        Parameters
        ----------
        exact, interval : shape (g,)    failures at known ages, and within intervals
        lived : shape (g,)              share of the failures to be expected that fell to taps which failed
        """
        failures = exact + interval
        each = self.leaning / np.sqrt(failures)
        long = FEW_FAIL_LONG + (ALL_FAIL_LONG - FEW_FAIL_LONG) * lived
        steep = FEW_FAIL_STEEP + (ALL_FAIL_STEEP - FEW_FAIL_STEEP) * lived + INTERVAL_STEEP * interval / failures
        return long * each, steep * each


PLAIN = Adjustment(0.0, 0.0, 0.0)
CALIBRATED = Adjustment(PRICE, WIDENING, 1.0)

METHODS = {"calibrated": CALIBRATED, "profile": PLAIN}
"""How intervals are made."""

DEFAULT_METHOD = "calibrated"


def adjustment_for(method: str) -> Adjustment:
    """What a method of intervals changes.

    Raises
    ------
    InputError    no such method
    """
    if method not in METHODS:
        raise InputError.of("interval", f"'{method}' is not known", f"use {' or '.join(METHODS)}")
    return METHODS[method]
