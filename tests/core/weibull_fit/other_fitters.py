"""Weibull fits by other people's packages: each gives the log-likelihood that it found, on the scale of the ages.

What they do where there is too little to fit, or a life that cannot be (own measurement; lifelines 0.30.3,
reliability 0.9.0, scipy 1.17.1, surpyval 0.25):

| lives | lifelines | reliability | scipy | surpyval |
| --- | --- | --- | --- | --- |
| no failure | shape 158, a warning | refuses | shape 1e-13, silent | refuses |
| one failure, survivors beyond it | shape 0.99 | refuses | shape 0.99 | refuses |
| one failure later than all survivors | shape 7e14, silent | refuses | shape 1e10, silent | refuses |
| equal lives; one life alone | TypeError | refuses | shape 1e7, warnings | refuses |
| NaN among the lives | refuses | NaN, warnings | refuses | refuses |
| 0 among the lives | refuses | drops it, silent | a fit, silent | refuses |
| a negative life | refuses | refuses | a fit, silent | refuses |

Ours gives a bound, or a refusal that names the value: `test_other_fitters.py`, `test_observations.py`.
"""

from __future__ import annotations

import contextlib
import io
import warnings
from collections.abc import Callable, Iterator

import numpy as np
import pytest

from shopfloor.core.survival.censored_data import Lives

Fitter = Callable[[Lives], float]


@contextlib.contextmanager
def quiet() -> Iterator[None]:
    """Without what the packages print, and without their warnings on matters of their own."""
    with contextlib.redirect_stdout(io.StringIO()), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def lifelines_fit(lives: Lives) -> float:
    """lifelines: any mix; with its Wald errors."""
    with quiet():
        fitter = pytest.importorskip("lifelines").WeibullFitter()
        if np.any(lives.is_failure & ~lives.is_exact) or lives.entry.any():
            fitter.fit_interval_censoring(lives.lower, lives.upper, entry=lives.entry, weights=lives.count)
        else:
            fitter.fit(lives.lower, lives.is_exact, weights=lives.count)
    return float(fitter.log_likelihood_)


def reliability_fit(lives: Lives) -> float:
    """reliability: exact failures and survivors only; with its Wald intervals."""
    failures, survivors = lives.lower[lives.is_exact], lives.lower[~lives.is_failure]
    with quiet():
        fit = pytest.importorskip("reliability.Fitters").Fit_Weibull_2P(
            failures=failures, right_censored=survivors, show_probability_plot=False, print_results=False
        )
    return float(fit.loglik)


def scipy_fit(lives: Lives) -> float:
    """scipy.stats: no part-used taps; point estimates alone."""
    from scipy.stats import CensoredData, weibull_min

    exact, good = lives.lower[lives.is_exact], lives.lower[~lives.is_failure]
    between = np.column_stack([lives.lower, lives.upper])[lives.is_failure & ~lives.is_exact]
    with quiet():
        shape, _, scale = weibull_min.fit(CensoredData(uncensored=exact, right=good, interval=between), floc=0)
    distribution = weibull_min(shape, scale=scale)
    chances = distribution.cdf(between[:, 1]) - distribution.cdf(between[:, 0])
    return float(distribution.logpdf(exact).sum() + distribution.logsf(good).sum() + np.log(chances).sum())


def surpyval_fit(lives: Lives) -> float:
    """surpyval: any mix, but no survivor that was not followed for a single hole; point estimates alone."""
    followed = lives.rows(np.flatnonzero(lives.is_failure | (lives.lower > lives.entry)))
    between = followed.is_failure & ~followed.is_exact
    ends = np.column_stack([followed.lower, np.where(followed.is_failure, followed.upper, followed.lower)])
    with quiet():
        fit = pytest.importorskip("surpyval").Weibull.fit(
            x=ends,
            c=np.where(between, 2, np.where(followed.is_failure, 0, 1)),
            n=followed.count.astype(int),
            tl=followed.entry if followed.entry.any() else None,
        )
    return -float(fit.neg_ll())
