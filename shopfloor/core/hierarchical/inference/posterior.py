"""The posterior of all conditions together: for each setting a normal law, the settings weighed by the log.

The spread of a setting's normal law comes from the peak of the posterior, the law's mean from `centred`; its weight is
Laplace's, corrected by `evidence`.

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
from shopfloor.core.hierarchical.inference.hessian import Curvature
from shopfloor.core.hierarchical.inference.marginal_likelihood import beyond_laplace
from shopfloor.core.hierarchical.inference.newton import Place, climb, height
from shopfloor.core.hierarchical.inference.variational_mean import Spread, centred
from shopfloor.core.hierarchical.model.competing_risks import FEWER, Against, ModeLaws, failed_within, intervals
from shopfloor.core.hierarchical.model.conditions import Condition, Histories
from shopfloor.core.hierarchical.model.design import Design, Rows, design
from shopfloor.core.hierarchical.model.exploration import Experience
from shopfloor.core.hierarchical.model.frailty import Terms
from shopfloor.core.hierarchical.model.likelihood import ModeLikelihood
from shopfloor.core.hierarchical.model.priors import settings
from shopfloor.core.survival.censored_data import FloatArray

LEAST_WEIGHT = 0.01
"""A setting that much less likely than the likeliest by Laplace's method is left out."""

MOST_STEPS = 400
"""A few do for any log of taps; where one life is 10^9 holes the steps are short."""

MOST_ROUNDS, SETTLED = 12, 0.02
"""Rounds over the modes end when no effect, in logs, moves further in a setting of some weight; the next would move a
tenth of that at most."""

HARDLY_LIKELY, ROUGHLY, NEARLY = 1e-3, 0.3, 0.02
"""Before the rounds settings so much less likely are left out, and peaks need not be nearer than that, in logs; nor, in
the rounds, than that, as Newton's next step would end nearer by far."""


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
        rows = self._rows(conditions)
        spread = self.root @ rows.of_effects.T
        covariance = np.swapaxes(spread, 1, 2) @ spread
        places = np.arange(covariance.shape[1])
        covariance[:, places, places] += rows.variance
        return self.effects @ rows.of_effects.T + rows.more, covariance

    def _rows(self, conditions: Sequence[Condition]) -> Rows:
        if any(condition not in self.places for condition in conditions):
            return self.design.rows(conditions)
        seen = [self.places[condition] for condition in conditions]
        of_effects = np.stack([self.design.shape[seen], self.design.scale[seen]], axis=1)
        return Rows(of_effects.reshape(2 * len(seen), -1), np.zeros(2 * len(seen)), np.zeros((1, 2 * len(seen))))

    def place(self, condition: Condition) -> int | None:
        """Where the condition stands in the design; None where no life was seen in it."""
        return self.places.get(condition)

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
    shared = design(conditions, settings(mode))
    likelihood = ModeLikelihood(histories, mode, len(conditions))
    return _centred(_top(likelihood, Curvature(shared, likelihood.cells), _start(likelihood, shared, near)))


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
    curvature) is left out: it would widen scales by 0.1 % on average (own measurement, in DEVELOPERS.md).

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
    if len(modes) < 2 or not failed_within(histories, modes).any():
        return {mode: posterior(histories, conditions, mode, last.get(mode)) for mode in modes}
    tops = {mode: _apart(histories, conditions, mode, last.get(mode)) for mode in modes}
    laws = {mode: top.laws(mode) for mode, top in tops.items()}
    found = intervals(histories, list(laws.values()))
    alone = {mode: Against(histories, found, mode, len(conditions)) for mode in modes}
    for _ in range(MOST_ROUNDS):
        moved = 0.0
        for mode, before in tops.items():
            likelihood = alone[mode].beside(_others(laws, mode))
            curvature = Curvature(before.design, likelihood.cells)
            tops[mode] = _top(likelihood, curvature, before.effects, NEARLY)
            laws[mode] = tops[mode].laws(mode)
            moved = max(moved, tops[mode].distance(before))
        if moved < SETTLED:
            break
    fewer = intervals(histories, list(laws.values()), FEWER)
    return {
        mode: _centred(replace(top, likelihood=alone[mode].among(fewer).beside(_others(laws, mode))))
        for mode, top in tops.items()
    }


def _others(laws: Mapping[str, ModeLaws], mode: str) -> list[ModeLaws]:
    return [one for name, one in laws.items() if name != mode]


@dataclass(frozen=True, eq=False)
class _Top:
    """The peak of the log posterior for every setting, the curvature there, and the weight of each setting.

    `effects` (k, p); `factor` (k, p, p), the Cholesky factor of their precision; `weight` (k,), of the likeliest 1
    """

    likelihood: ModeLikelihood
    curvature: Curvature
    frailty: FloatArray
    effects: FloatArray
    terms: Terms
    factor: FloatArray
    weight: FloatArray

    @property
    def design(self) -> Design:
        return self.curvature.design

    def laws(self, mode: str) -> ModeLaws:
        return ModeLaws(
            mode, self.effects @ self.design.shape.T, self.effects @ self.design.scale.T, self.frailty,
            self.weight / self.weight.sum(),
        )  # fmt: skip

    def distance(self, other: _Top) -> float:
        """How far the peaks lie apart in the settings that count."""
        return float(np.abs(self.effects - other.effects)[self.weight > LEAST_WEIGHT].max())

    def likelier(self, least: float) -> _Top:
        """Without the settings that are less likely."""
        kept = self.weight > least
        terms = self.terms.of_settings(kept)
        return _Top(
            self.likelihood, self.curvature.of_settings(kept), self.frailty[kept], self.effects[kept], terms,
            self.factor[kept], self.weight[kept],
        )  # fmt: skip


def _apart(histories: Histories, conditions: Sequence[Condition], mode: str, near: Posterior | None) -> _Top:
    """Roughly the top of a mode without its rivals, from where their rounds may start."""
    shared = design(conditions, settings(mode))
    likelihood = ModeLikelihood(histories, mode, len(conditions))
    top = _top(likelihood, Curvature(shared, likelihood.cells), _start(likelihood, shared, near), ROUGHLY)
    return top.likelier(HARDLY_LIKELY)


def _top(likelihood: ModeLikelihood, curvature: Curvature, start: FloatArray, near_enough: float = 1e-3) -> _Top:
    shared = curvature.design
    told = shared.settings
    frailty = np.array([one.frailty for one in told])
    peak = _peak(likelihood, curvature, frailty, start, near_enough)
    factor = _factor(curvature.at(peak.terms))
    diagonal = np.log(np.diagonal(factor, axis1=1, axis2=2))
    evidence = peak.height - np.log(shared.sd).sum(axis=1) - diagonal.sum(axis=1) + [one.log_chance for one in told]
    return _Top(
        likelihood, curvature, frailty, peak.effects, peak.terms, factor, np.exp(evidence - evidence.max())
    )  # fmt: skip


def _factor(precision: FloatArray) -> FloatArray:
    try:
        return np.asarray(np.linalg.cholesky(precision), float)
    except np.linalg.LinAlgError as error:
        raise NotConverged("the posterior of the groups") from error


def _centred(top: _Top) -> Posterior:
    """The posterior of the settings that count, its laws moved to the middle."""
    one = top.likelier(LEAST_WEIGHT)
    root = np.asarray(np.linalg.inv(one.factor), float)
    spread = Spread.of(one.design, one.frailty, root)
    effects, slope = centred(one.likelihood, one.curvature, spread, one.effects)
    own = np.stack([one.terms.bb, one.terms.bm, one.terms.mm], axis=-1)
    beyond = beyond_laplace(one.likelihood, one.design, spread, effects, slope, own)
    beyond += _height(one.likelihood, one.design, effects) - _height(one.likelihood, one.design, one.effects)
    weight = one.weight * np.exp(beyond - beyond.max())
    places = {condition: i for i, condition in enumerate(one.design.conditions)}
    groups: defaultdict[Condition, list[int]] = defaultdict(list)
    for condition, place in places.items():
        groups[condition.group].append(place)
    return Posterior(
        one.likelihood, one.design, weight / weight.sum(), one.frailty, one.effects, effects, root, slope, own,
        places, dict(groups),
    )  # fmt: skip


def _start(likelihood: ModeLikelihood, shared: Design, near: Posterior | None) -> FloatArray:
    """Effects to start from: as an earlier log told them, or as expected but for the lives' level; the likelier ones.

    Newton steps are short where the hazard is beyond all measure: each takes about 1 off its logarithm. An earlier log
    may tell of other lives, or count them in another unit.
    """
    start = shared.mean.copy()
    shape = float(shared.shape[0] @ shared.mean[0])
    start[:, 0] += likelihood.longer(shape, shared.mean[0] @ shared.scale.T)
    if near is None:
        return start
    known = {label: i for i, label in enumerate(near.design.labels)}
    here = [(i, known[label]) for i, label in enumerate(shared.labels) if label in known]
    to, place = (list(places) for places in zip(*here, strict=True))
    likeliest, told = int(near.weight.argmax()), near.design.settings
    setting = [told.index(one) if one in told else likeliest for one in shared.settings]
    as_told = start.copy()
    as_told[:, to] = near.peak[np.ix_(setting, place)]
    is_likelier = _height(likelihood, shared, as_told) > _height(likelihood, shared, start)
    return np.where(is_likelier[:, None], as_told, start)


def _height(likelihood: ModeLikelihood, shared: Design, effects: FloatArray) -> FloatArray:
    frailty = np.array([one.frailty for one in shared.settings])
    return height(likelihood.terms(effects @ shared.shape.T, effects @ shared.scale.T, frailty), shared, effects)


def _peak(
    likelihood: ModeLikelihood, curvature: Curvature, frailty: FloatArray, start: FloatArray, near_enough: float
) -> Place:
    """The top of the log posterior for every setting."""
    shared = curvature.design

    def at(effects: FloatArray) -> Terms:
        return likelihood.terms(effects @ shared.shape.T, effects @ shared.scale.T, frailty)

    for place in islice(climb(at, curvature, start), MOST_STEPS):
        if place.gain < 10 * near_enough and place.step < near_enough:
            return place
    if place.step < near_enough:
        # A ridge as narrow as taps that all broke at the same hole make it: what is left to climb changes nothing.
        return place
    raise NotConverged("the posterior of the groups")
