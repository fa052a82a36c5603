"""Goodness of fit of a Weibull distribution: an Anderson-Darling statistic with a parametric bootstrap.

Under the fitted distribution the scaled total time on test, in units of cumulative hazard, is uniform at the failures:
its values there, as shares of the last, are compared with a uniform distribution (Anderson-Darling). They do not depend
on the scale. The null distribution of the statistic is found by sampling logs from the fitted distribution, observed as
the real one was, and refitting each of them.

References: R. E. Barlow & R. Campo, Total time on test processes and applications to failure data analysis, in:
Reliability and Fault Tree Analysis, SIAM 1975; N. L. Hjort, Goodness of fit tests in models for life history data based
on cumulative hazard rates, Ann. Statist. 18 (1990) 1221-1258; W. Stute, W. Gonzales Manteiga & M. Presedo Quindimil,
Bootstrap based goodness-of-fit-tests, Metrika 40 (1993) 243-256.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from shopfloor.core.phrases import phrase
from shopfloor.core.survival.censored_data import BoolArray, Evidence, FloatArray, Lives
from shopfloor.core.survival.survival_curve import product_limit
from shopfloor.core.weibull_fit.fit import LifeResult, WeibullFit
from shopfloor.core.weibull_fit.grouped_fit import fit_many
from shopfloor.core.weibull_fit.grouped_likelihood import IntArray

Verdict = Literal["fits", "doubtful", "does not fit", "unknown"]

FEWEST = 5
"""With fewer failures hardly any other distribution can be told from a Weibull. Common practice, no source."""

DOUBTFUL, UNLIKELY = 0.10, 0.02
"""p-values below which a fit is doubtful, and rejected. Common practice, no source."""

DRAWS, FEWEST_DRAWS = 499, 99
MOST_DRAWN = 100_000
"""Lives sampled in all, to bound the time that a page takes; but never fewer than 99 logs."""

LAST_HAZARD = 1e3
"""No tap survives so much hazard; more would swamp the other logs in one cumulative sum."""

MOST_LIVES = 20_000
"""With more lives any distribution is rejected, and the curve is more informative."""


@dataclass(frozen=True)
class GoodnessOfFit:
    """Result of a goodness-of-fit test.

    Attributes
    ----------
    verdict                  'fits', 'doubtful', 'does not fit'; 'unknown' where there is too little to tell
    chance : float or None   bootstrap p-value
    distance : float or None Anderson-Darling statistic
    draws : int              bootstrap samples
    enough : str             what would be enough, where the verdict is unknown
    evidence : Evidence      taps, failures, holes
    """

    verdict: Verdict
    chance: float | None
    distance: float | None
    draws: int
    enough: str
    evidence: Evidence


def goodness_of_fit(lives: Lives, fit: LifeResult, draws: int = DRAWS, seed: int = 1) -> GoodnessOfFit:
    """Goodness of fit by parametric bootstrap.

    Parameters
    ----------
    lives : Lives           those that were fitted
    fit : LifeResult        their fit
    draws : int             bootstrap samples wanted
    seed : int              of the random numbers: the same lives give the same result

    Returns
    -------
    GoodnessOfFit           'unknown' without a fit, with fewer than 5 failures, or beyond 20,000 lives

    Notes
    -----
    A tap that failed might have been removed later for another reason: its censoring age is sampled from the ages of
    the survivors (product-limit). An interval failure is taken at its conditional median. Where many taps share the
    ages of inspection, sampled taps are inspected at those; else each in steps of its own interval.

    References
    ----------
    Stute, Gonzales Manteiga & Presedo Quindimil 1993
    """
    if not isinstance(fit, WeibullFit) or lives.failures < FEWEST or lives.lives > MOST_LIVES:
        enough = phrase("{failures} failures, and a fit, of at most {lives} lives", failures=FEWEST, lives=MOST_LIVES)
        return GoodnessOfFit("unknown", None, None, 0, enough, lives.evidence)
    single = _one_by_one(lives)
    rng = np.random.default_rng(seed)
    draws = min(draws, max(MOST_DRAWN // len(single), FEWEST_DRAWS))
    distance = float(distances(single, np.zeros(len(single), dtype=np.intp), fit.method)[0])
    drawn, group = _draw(single, fit.weibull.shape, fit.weibull.scale, draws, rng)
    found = distances(drawn, group, fit.method)
    chance = (1 + int(np.sum(found >= distance))) / (1 + len(found))
    verdict: Verdict = "fits" if chance >= DOUBTFUL else "doubtful" if chance >= UNLIKELY else "does not fit"
    return GoodnessOfFit(verdict, chance, distance, len(found), "", lives.evidence)


def distances(lives: Lives, group: IntArray, method: str) -> FloatArray:
    """Anderson-Darling statistic of each group of lives against its own fit.

    Parameters
    ----------
    lives : Lives                   of all groups
    group : integers, shape (n,)    group of each life, from 0
    method : str                    interval method of the fits, as in `fit_weibull`

    Returns
    -------
    shape (k,)                      groups without a fit are left out
    """
    fits = fit_many(lives, group, interval=method)
    place = np.full(int(group.max()) + 1, -1)
    place[fits.groups] = np.arange(len(fits.groups))
    kept = np.flatnonzero(place[group] >= 0)
    row = place[group[kept]]
    shape, scale = fits.most_likely_shape[row], fits.most_likely_scale[row]
    entry, low, high = (_hazard(column[kept], shape, scale) for column in (lives.entry, lives.lower, lives.upper))
    failed = lives.is_failure[kept]
    median = low - np.log1p(np.expm1(-(high - low)) / 2)
    return _anderson_darling(row, entry, np.where(failed, median, low), failed, len(fits.groups))


def _hazard(age: FloatArray, shape: FloatArray, scale: FloatArray) -> FloatArray:
    """Cumulative hazard at each age, capped at `LAST_HAZARD`, as a steep one would overflow."""
    with np.errstate(divide="ignore"):
        log = shape * np.log(age / scale)
    return np.asarray(np.exp(np.minimum(log, math.log(LAST_HAZARD))))


def _anderson_darling(
    row: IntArray, entry: FloatArray, exit_: FloatArray, failed: BoolArray, groups: int
) -> FloatArray:
    """The statistic for each row, from cumulative hazards at entry and exit."""
    n = len(row)
    at, rows = np.concatenate([entry, exit_]), np.concatenate([row, row])
    change = np.concatenate([np.ones(n), -np.ones(n)])
    is_failure = np.concatenate([np.zeros(n, dtype=bool), failed])
    order = np.lexsort((at, rows))
    at, rows, change, is_failure = at[order], rows[order], change[order], is_failure[order]
    first = np.concatenate([[True], rows[1:] != rows[:-1]])
    # Every row ends with none at risk, so one cumulative sum serves all.
    at_risk = np.cumsum(change) - change
    step = np.where(first, 0.0, np.diff(at, prepend=0.0)) * at_risk
    clock = np.cumsum(step)
    start = clock[np.flatnonzero(first)]
    last = np.flatnonzero(np.concatenate([first[1:], [True]]))
    whole = np.maximum(clock[last] - start, 1e-6)
    share = ((clock - start[rows]) / whole[rows])[is_failure]
    return _distance_of(share, rows[is_failure], groups)


def _distance_of(share: FloatArray, rows: IntArray, groups: int) -> FloatArray:
    """-r - mean of (2 j - 1) (log u_j + log(1 - u_(r + 1 - j))), each u kept away from 0 and 1."""
    failures = np.bincount(rows, minlength=groups)
    starts = np.cumsum(failures) - failures
    r = failures[rows]
    rank = np.arange(len(rows)) - starts[rows] + 1
    u = np.clip(share, 1 / (8 * r), 1 - 1 / (8 * r))
    terms = (2 * rank - 1) * np.log(u) + (2 * (r - rank) + 1) * np.log1p(-u)
    return np.asarray(-failures - np.bincount(rows, terms / r, groups))


def _one_by_one(lives: Lives) -> Lives:
    """One row for each life."""
    rows = np.repeat(np.arange(len(lives)), lives.count.astype(int))
    return replace(lives.rows(rows), count=np.ones(len(rows)))


def _draw(lives: Lives, shape: float, scale: float, draws: int, rng: np.random.Generator) -> tuple[Lives, IntArray]:
    """Bootstrap samples, each life observed as the real one was; and the sample to which each life belongs."""
    size = (draws, len(lives))
    start = (lives.entry / scale) ** shape
    age = np.maximum(scale * (start + rng.standard_exponential(size)) ** (1 / shape), np.nextafter(lives.entry, np.inf))
    stop = np.where(lives.is_failure, _later_stops(lives, size, rng), lives.lower)
    looks = lives.is_failure & ~lives.is_exact
    before, after = _looked_at(lives, age)
    failed = np.where(looks, after, age) <= stop
    lower = np.where(failed, np.where(looks, np.maximum(before, lives.entry), age), np.minimum(stop, before))
    lower = np.where(failed | looks, lower, stop)
    upper = np.where(failed, np.where(looks, after, age), math.inf)
    group = np.repeat(np.arange(draws), len(lives))
    flat = np.broadcast_to(lives.entry, size).ravel()
    none = np.zeros(flat.size, dtype="U1")
    return Lives(lower.ravel(), upper.ravel(), flat, none, np.ones(flat.size)), group


def _looked_at(lives: Lives, age: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Inspections before and after each age: those of the log where shared, else in steps of each interval."""
    inspected = lives.is_failure & ~lives.is_exact
    ends = np.unique(np.concatenate([lives.lower[inspected], lives.upper[inspected]]))
    if 2 * len(ends) <= inspected.sum():
        place = np.searchsorted(ends, age, side="left")
        return np.concatenate([[0.0], ends])[place], np.append(ends, math.inf)[place]
    step = np.where(inspected, lives.upper - lives.lower, 1.0)
    steps = np.floor((age - lives.lower) / step)
    return np.maximum(lives.lower + steps * step, 0.0), lives.lower + (steps + 1) * step


def _later_stops(lives: Lives, size: tuple[int, int], rng: np.random.Generator) -> FloatArray:
    """Censoring ages of taps that failed, had they not: sampled from survivors' ages beyond it, or never."""
    turned = replace(lives, upper=np.where(lives.is_failure, np.inf, lives.lower))
    ages, _, _, left = product_limit(turned.rows(np.flatnonzero(turned.lower > turned.entry)))
    if not len(ages):
        return np.full(size, math.inf)
    known = np.concatenate([[1.0], left])[np.searchsorted(ages, lives.lower, side="right")]
    aim = known * rng.random(size)
    place = np.searchsorted(-left, -aim, side="left")
    return np.where(place < len(ages), np.append(ages, math.inf)[place], math.inf)
