"""Small-sample adjustment of likelihood intervals: a penalty on steep shapes, and a skewness correction.

With few failures the Weibull likelihood favours steep shapes: the median estimate from 3 failures is 1.3 times the true
shape or more. Three corrections:

- log(shape) is subtracted from the log-likelihood. For complete lives, and for type II censoring, the (profiled) result
  is the marginal likelihood of the shape, free of the scale: Lawless 2003, section 5.1, and the restricted likelihood
  of D. A. Harville, Biometrika 61 (1974) 383-385.
- The signed root of the deviance is normal with a mean that is not 0 but of the order of 1 over the root of the number
  of failures r, so that the two ends of an interval would miss with different probabilities (D. A. Pierce & D. Peters,
  J. Roy. Statist. Soc. B 54 (1992) 701-737). The root allowed is larger by that mean on one side, and smaller on the
  other. The mean depends on how lives end, which is measured by q, the share of the cumulative hazard, at the fitted
  distribution, accumulated by taps that failed: 1 where every tap failed, near 0 where most are removed early.
- Its variance is not 1: for exponential lives it is 1 + 1 / (18 r), that is, M. S. Bartlett's factor 1 + 1 / (6 r)
  (Proc. Roy. Soc. A 160 (1937) 268-282) less the square of the mean 1/3. The deviance allowed is larger by that factor.

The means, times the root of r (own derivation from the third derivatives; checked by tests against simulation):

- Where all other taps were removed when the last one failed (type II censoring), the number of failures was fixed and
  q counts as 1. Other logs do not show how they were ended.
- Towards long lives. Under type II censoring r times the hazard over its estimate has a gamma distribution: 1/3,
  whatever q. With a fixed number of taps, each removed at a time of its own, r is random as well: q/2 - 1/6, which is
  1/3 if all fail, and that of Poisson counts if few do. Half of each: 1/12 + q/4.
- Towards steep shapes. If few taps fail, the logs of their ages have an exponential distribution and the shape a gamma
  likelihood: -1/3, and 1 because the penalty is not needed, as the marginal likelihood then is the likelihood itself.
  If every tap fails, a third of the third derivative of the marginal likelihood over the second to the power of 3/2:
  for each life those are -psi''(2) - 3 psi'(2) - 1 and psi'(2) + 1, with psi the digamma function: -0.40. In between,
  linear in q. Interval failures carry less information on the shape than the penalty removes: own measurement.

`tests/bench/bench_coverage.py` measures the coverage.

Where every life was already in use when first seen, the likelihood does not decrease as the shape goes to 0, and minus
log(shape) would grow without bound. So the penalty is log(shape + FLATTEST^2 / shape), which is log(shape) for shapes
that taps have, and turns round at FLATTEST.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from shopfloor.core.errors import InputError
from shopfloor.core.survival.censored_data import FloatArray

FLATTEST = 0.25
"""At this shape 7 of 10 taps fail before a tenth of the mean life: tap lives are not like that. Common practice."""

PENALTY = 1.0
"""Multiple of log(shape) subtracted: see above."""

WIDENING = 1 / 18
"""Numerator of the variance correction: see above."""

FEW_FAIL_LONG, ALL_FAIL_LONG = 1 / 12, 1 / 3
FEW_FAIL_STEEP, ALL_FAIL_STEEP = 2 / 3, -0.40
INTERVAL_STEEP = 0.4
"""Mean of the signed root of the deviance, times the root of the failures, towards long lives and steep shapes, and
what is added if all are interval failures: see above."""


@dataclass(frozen=True)
class Adjustment:
    """Penalty on the log shape, variance correction of the deviance, and weight of its skewness correction."""

    penalty: float
    widening: float
    skewness_weight: float

    def value(self, log_shape: FloatArray) -> FloatArray:
        """Penalty at each log shape."""
        x = log_shape - math.log(FLATTEST)
        return np.asarray(self.penalty * (np.logaddexp(x, -x) + math.log(FLATTEST)))

    def slope(self, log_shape: FloatArray) -> FloatArray:
        """First derivative of the penalty by log shape."""
        return np.asarray(self.penalty * np.tanh(log_shape - math.log(FLATTEST)))

    def slope_at(self, log_shape: float) -> float:
        """The same at one shape."""
        return self.penalty * math.tanh(log_shape - math.log(FLATTEST))

    def curvature(self, log_shape: FloatArray) -> FloatArray:
        """Second derivative of the penalty by log shape."""
        return np.asarray(self.penalty * (1 - np.tanh(log_shape - math.log(FLATTEST)) ** 2))

    def curvature_at(self, log_shape: float) -> float:
        """The same at one shape."""
        return self.penalty * (1 - math.tanh(log_shape - math.log(FLATTEST)) ** 2)

    def bartlett_factor(self, failures: FloatArray | float) -> FloatArray:
        """Factor on the allowed deviance, for numbers of failures."""
        return np.asarray(1 + self.widening / np.asarray(failures, float))

    def signed_root_means(
        self, exact: FloatArray, interval: FloatArray, hazard_share: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Means of the signed root of the deviance, towards long lives and towards steep shapes.

        Parameters
        ----------
        exact, interval : shape (g,)    numbers of exact and interval failures
        hazard_share : shape (g,)       share of the cumulative hazard accumulated by taps that failed, 0 to 1

        Returns
        -------
        tuple of shape (g,)             by how much the root allowed is larger on that side, smaller on the other
        """
        failures = exact + interval
        each = self.skewness_weight / np.sqrt(failures)
        long = FEW_FAIL_LONG + (ALL_FAIL_LONG - FEW_FAIL_LONG) * hazard_share
        steep = FEW_FAIL_STEEP + (ALL_FAIL_STEEP - FEW_FAIL_STEEP) * hazard_share + INTERVAL_STEEP * interval / failures
        return long * each, steep * each


PLAIN = Adjustment(0.0, 0.0, 0.0)
CALIBRATED = Adjustment(PENALTY, WIDENING, 1.0)

METHODS = {"calibrated": CALIBRATED, "profile": PLAIN}
"""How intervals are computed."""

DEFAULT_METHOD = "calibrated"


def adjustment_for(method: str) -> Adjustment:
    """The adjustment of an interval method.

    Raises
    ------
    InputError    unknown method
    """
    if method not in METHODS:
        raise InputError.of("interval", f"'{method}' is not known", f"use {' or '.join(METHODS)}")
    return METHODS[method]
