"""The posterior of all conditions together: for each setting a normal law, the settings weighed by the log.

A setting's weight and the spread of its normal law come from the peak of the posterior, the law's mean from `centred`.

References: L. Tierney & J. B. Kadane, Accurate approximations for posterior moments and marginal densities, J. Amer.
Statist. Assoc. 81 (1986) 82-86 (Laplace's method); H. Rue, S. Martino & N. Chopin, Approximate Bayesian inference for
latent Gaussian models, J. Roy. Statist. Soc. B 71 (2009) 319-392 (weighing settings).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np

from shopfloor.core.errors import NotConverged
from shopfloor.core.observations import FloatArray
from shopfloor.core.pool.centred import centred
from shopfloor.core.pool.climb import Place, climb
from shopfloor.core.pool.competing import Against, Intervals, ModeLaws
from shopfloor.core.pool.conditions import Condition, Histories
from shopfloor.core.pool.curvature import Curvature
from shopfloor.core.pool.curves import Terms
from shopfloor.core.pool.design import Design, design
from shopfloor.core.pool.experience import Experience
from shopfloor.core.pool.priors import settings
from shopfloor.core.pool.terms import ModeLikelihood

LEAST_WEIGHT = 1e-3
"""A setting that much less likely than the likeliest is left out."""

MOST_STEPS = 400
"""A few do for any log of taps; where one life is 10^9 holes the steps are short."""

FAR_BEYOND = 2.0
"""In logs: a tap that was used 7 times as long as a characteristic life is far beyond what was expected."""

MOST_ROUNDS, SETTLED, LEAST_WEIGHT = 12, 0.02, 0.01
"""Rounds over the modes end when no effect, in logs, moves further in a setting of some weight; the next would move a
tenth of that at most."""


@dataclass(frozen=True, eq=False)
class Posterior:
    """What is known of (log shape, log scale) of each of c conditions, as a mixture of k normal laws.

    Attributes
    ----------
    weight : (k,)            chance of each setting, given the log
    frailty : (k,)           variance of the taps' own factor on the hazard in each
    peak, effects : (k, p)   the effects at the top of the log posterior, and their mean
    root : (k, p, p)         R with R' R their covariance
    slope : (k, c, 2)        how each condition's own plain lives pull at its (b, m), averaged over the law
    own : (k, c, 3)          what they add to the precision of its (b, m): bb, bm, mm
    places, groups           where each condition, and all conditions of its group, stand in the design
    """

    likelihood: ModeLikelihood
    design: Design
    weight: FloatArray
    frailty: FloatArray
    peak: FloatArray
    effects: FloatArray
    root: FloatArray
    slope: FloatArray
    own: FloatArray
    places: Mapping[Condition, int]
    groups: Mapping[Condition, list[int]]

    def normal(self, conditions: Sequence[Condition]) -> tuple[FloatArray, FloatArray]:
        """Mean, shape (k, 2 n), and covariance, shape (k, 2 n, 2 n), of b, m, b, m, ... of any conditions."""
        rows = self.design.rows(conditions)
        spread = self.root @ rows.of_effects.T
        covariance = np.swapaxes(spread, 1, 2) @ spread
        places = np.arange(covariance.shape[1])
        covariance[:, places, places] += rows.variance
        return self.effects @ rows.of_effects.T + rows.more, covariance

    def place(self, condition: Condition) -> int | None:
        """Where the condition stands in the design; None where no life was seen in it."""
        return self.places.get(condition)

    def laws(self, mode: str) -> ModeLaws:
        """The most likely laws of the conditions in each setting."""
        peak, of = self.peak, self.design
        return ModeLaws(mode, peak @ of.shape.T, peak @ of.scale.T, self.frailty, self.weight)

    def distance(self, other: Posterior) -> float:
        """How far the peaks lie apart in the settings that count."""
        counts = self.weight > LEAST_WEIGHT
        return float(np.abs(self.peak - other.peak)[counts].max())

    def leaning(self, condition: Condition) -> float:
        """Share of what is known of the scale that comes from elsewhere: from like taps and from what was known before.

        1 where the condition's group (the same but for the hole's and the tap's traits) has no life of its own.
        """
        places = self.groups.get(condition.group)
        if places is None:
            return 1.0
        _, spread = self.normal([condition, *(self.design.conditions[place] for place in places)])
        told = np.zeros_like(spread)
        for i, place in enumerate(places, start=1):
            bb, bm, mm = self.own[:, place].T
            told[:, 2 * i : 2 * i + 2, 2 * i : 2 * i + 2] = np.array([[bb, bm], [bm, mm]]).transpose(2, 0, 1)
        # The spread if nothing had been told here: (spread^-1 - told)^-1, without the inverse of a spread of equals.
        elsewhere = np.linalg.solve(np.eye(spread.shape[1]) - spread @ told, spread)[:, 1, 1]
        return float(np.clip(self.weight @ (spread[:, 1, 1] / elsewhere), 0.0, 1.0))


def experience(modes: Sequence[Posterior], condition: Condition) -> Experience:
    """What a log holds of all modes of failure, each with its posterior, and of the condition's group."""
    failures = np.sum([one.likelihood.failures for one in modes], axis=0)
    here = modes[0].groups.get(condition.group, [])
    own = float(failures[here].sum())
    return Experience(float(failures.sum()), own, float(modes[0].likelihood.lives[here].sum()) - own)


def posterior(
    histories: Histories, conditions: Sequence[Condition], mode: str, near: Posterior | None = None
) -> Posterior:
    """What the lives tell of every condition, those without a life too.

    Parameters
    ----------
    histories       lives, whose conditions are places in `conditions`
    conditions      those of the lives; each once
    mode            the failures that count; others had survived until theirs
    near            the posterior of an earlier log, from which to start

    Raises
    ------
    NotConverged    not known to happen
    """
    return _centred(_peaked(ModeLikelihood(histories, mode, len(conditions)), design(conditions, settings(mode)), near))


def posteriors(
    histories: Histories,
    conditions: Sequence[Condition],
    modes: Sequence[str],
    near: Mapping[str, Posterior] | None = None,
) -> dict[str, Posterior]:
    """The posterior of each mode, the modes competing within the intervals in which taps failed.

    Exact failures leave modes independent. Where a tap failed by a known mode within an interval they are not: each
    mode in turn is found with the others as they are on average over their settings, until none moves. The settings of
    different modes are weighed apart, and what one mode's uncertainty adds to another's within intervals (their cross
    curvature) is left out: it grows with the square of the chance that both modes come up in one interval, so the
    spread of each is told slightly too narrow only where intervals are as long as lives.

    Parameters
    ----------
    histories, conditions    as in `posterior`
    modes                    the modes that compete, whether or not any tap failed so
    near                     posteriors of an earlier log, from which to start

    Raises
    ------
    NotConverged    not known to happen
    """
    last = near or {}
    intervals = Intervals.of(histories, modes, len(conditions))
    if len(modes) < 2 or not len(intervals.row):
        return {mode: posterior(histories, conditions, mode, last.get(mode)) for mode in modes}
    if all(mode in last and last[mode].design.conditions == tuple(conditions) for mode in modes):
        found = {mode: last[mode] for mode in modes}
    else:
        found = {
            mode: _peaked(
                ModeLikelihood(histories, mode, len(conditions)), design(conditions, settings(mode)), last.get(mode)
            )
            for mode in modes
        }
    for _ in range(MOST_ROUNDS):
        before = dict(found)
        for mode in modes:
            own, *rivals = (found[name].laws(name) for name in (mode, *(name for name in modes if name != mode)))
            likelihood = Against(histories, intervals, own, rivals)
            try:
                found[mode] = _peaked(likelihood, found[mode].design, found[mode])
            except NotConverged:
                # The straight lines that stand for the other modes can lead away from every law: then each is apart.
                return {name: posterior(histories, conditions, name) for name in modes}
        if max(found[mode].distance(before[mode]) for mode in modes) < SETTLED:
            break
    return {mode: _centred(one) for mode, one in found.items()}


def _peaked(likelihood: ModeLikelihood, shared: Design, near: Posterior | None) -> Posterior:
    """The peak for every setting, the curvature there, and the weight of each setting; not yet moved to the middle."""
    told = shared.settings
    frailty = np.array([one.frailty for one in told])
    curvature = Curvature(shared, likelihood.cells)
    peak = _peak(likelihood, curvature, frailty, _start(likelihood, shared, near))
    terms = peak.terms
    factor = _factor(curvature.at(terms))
    diagonal = np.log(np.diagonal(factor, axis1=1, axis2=2))
    evidence = peak.height - np.log(shared.sd).sum(axis=1) - diagonal.sum(axis=1) + [one.log_chance for one in told]
    weight = np.exp(evidence - evidence.max())
    weight[weight < LEAST_WEIGHT] = 0.0
    root = np.asarray(np.linalg.inv(factor), float)
    slope = np.stack([terms.by_b, terms.by_m], axis=-1)
    own = np.stack([terms.bb, terms.bm, terms.mm], axis=-1)
    places = {condition: i for i, condition in enumerate(shared.conditions)}
    groups: defaultdict[Condition, list[int]] = defaultdict(list)
    for condition, place in places.items():
        groups[condition.group].append(place)
    weight, top = weight / weight.sum(), peak.effects
    return Posterior(likelihood, shared, weight, frailty, top, top, root, slope, own, places, dict(groups))


def _factor(precision: FloatArray) -> FloatArray:
    try:
        return np.asarray(np.linalg.cholesky(precision), float)
    except np.linalg.LinAlgError as error:
        raise NotConverged("the posterior of the groups") from error


def _centred(peaked: Posterior) -> Posterior:
    """The same with its laws moved to the middle."""
    one, curvature = peaked, Curvature(peaked.design, peaked.likelihood.cells)
    effects, slope = centred(one.likelihood, curvature, one.frailty, one.peak, one.root, one.weight > 0)
    return replace(one, effects=effects, slope=slope)


def _start(likelihood: ModeLikelihood, shared: Design, near: Posterior | None) -> FloatArray:
    """Effects to start from: as an earlier log told them, where it did; else as they are expected.

    Lives are longer than expected where a tap was used so long that none could have been expected: Newton steps are
    short where the hazard is beyond all measure, each takes about 1 off its logarithm.
    """
    start = shared.mean.copy()
    beyond = likelihood.longest_use(shared.mean[0] @ shared.scale.T)
    start[:, 0] += max(0.0, beyond - FAR_BEYOND)
    if near is not None and near.effects.shape[0] == start.shape[0]:
        known = {label: i for i, label in enumerate(near.design.labels)}
        here = [(i, known[label]) for i, label in enumerate(shared.labels) if label in known]
        to, place = (list(places) for places in zip(*here, strict=True))
        start[:, to] = near.peak[:, place]
    return start


def _peak(likelihood: ModeLikelihood, curvature: Curvature, frailty: FloatArray, start: FloatArray) -> Place:
    """The top of the log posterior for every setting."""
    shared = curvature.design

    def at(effects: FloatArray) -> Terms:
        return likelihood.terms(effects @ shared.shape.T, effects @ shared.scale.T, frailty)

    for place in islice(climb(at, curvature, start), MOST_STEPS):
        if place.gain < 1e-6 and place.step < 1e-3:
            return place
    if place.step < 1e-3:
        # A ridge as narrow as taps that all broke at the same hole make it: what is left to climb changes nothing.
        return place
    raise NotConverged("the posterior of the groups")
