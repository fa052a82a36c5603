"""Whether taps of one type last longer in one material, or at one speed, than in another; and how much longer."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from shopfloor.core.errors import InputError, NotConverged
from shopfloor.core.floor.cutting import CuttingConditions, SpeedBand
from shopfloor.core.phrases import phrase
from shopfloor.core.survival.censored_data import Evidence, Lives
from shopfloor.core.survival.estimates import Estimate
from shopfloor.core.survival.logrank import compare_lives
from shopfloor.core.vocabulary import Mode
from shopfloor.core.weibull_fit.regression import fit_regression
from shopfloor.services.advice.life_book import LifeBook, ending_in

FEWEST_EACH = 5
"""Failures needed for each effect: with fewer it would be a guess. Common practice, no source."""

BEYOND_SENSE = 12.0
"""Largest bound of a log effect: one that may be a factor of 100,000 is not bounded by the data."""


@dataclass(frozen=True)
class Compared:
    """One group of a comparison: failures seen, and expected were all groups alike."""

    name: str
    taps: int
    failures: int
    expected: float


@dataclass(frozen=True)
class GroupComparison:
    """Whether groups last equally long, by a non-parametric test.

    Attributes
    ----------
    by          'material', or 'speed' within one material
    chance      p-value: how often a difference this large arises by chance
    has_middles whether interval-censored failures were taken at the middle of the interval
    """

    by: str
    groups: tuple[Compared, ...]
    chance: float
    has_middles: bool


@dataclass(frozen=True)
class Effect:
    """How many times as many holes a tap makes: at twice the speed (`material` None), or in a material."""

    material: str | None
    ratio: Estimate


@dataclass(frozen=True)
class Effects:
    """What goes with longer lives, all effects together.

    Attributes
    ----------
    reference   the material with which the others are compared; None where there is only one
    reason      why there are none; None where there are
    left_out    materials in which no tap has failed yet
    """

    effects: tuple[Effect, ...]
    reference: str | None
    reason: str | None
    evidence: Evidence
    left_out: tuple[str, ...]


@dataclass(frozen=True)
class LifeGroups:
    """What distinguishes longer from shorter lives of one tap type; each None if there is nothing to compare."""

    comparison: GroupComparison | None
    effects: Effects | None


@dataclass(frozen=True, eq=False)
class _Group:
    material: str
    speed_band: str | None
    lives: Lives
    evidence: Evidence

    @property
    def speed(self) -> float:
        """The middle of the band. Bands of one tap type share a unit, so their ratios are those of the speeds."""
        if self.speed_band is None:
            return 1.0
        band = SpeedBand.parse(self.speed_band)
        return math.sqrt(band.low * band.high)


def life_groups(
    book: LifeBook, tap_type: int, material: int | None, mode: Mode | None, names: dict[int, str], level: float
) -> LifeGroups:
    """How the lives of a tap type depend on material and speed; within a single material only on speed.

    Parameters
    ----------
    names    of materials, by their keys
    """
    key = ("compared", material, mode, tuple(names.items()), level)
    return book.once(tap_type, key, lambda: _life_groups(book, tap_type, material, mode, names, level))


def _life_groups(
    book: LifeBook, tap_type: int, material: int | None, mode: Mode | None, names: dict[int, str], level: float
) -> LifeGroups:
    within = [one for one in book.cutting_conditions() if one.tap_type == tap_type and material in (None, one.material)]
    exact = _groups(book, within, mode, names)
    if len({one.material for one in within}) > 1:
        wide = list(dict.fromkeys(replace(one, speed_band=None) for one in within))
        return LifeGroups(_comparison("material", _groups(book, wide, mode, names)), _effects(exact, level))
    return LifeGroups(_comparison("speed", sorted(exact, key=lambda group: group.speed)), _effects(exact, level))


def _groups(
    book: LifeBook, conditions: Sequence[CuttingConditions], mode: Mode | None, names: dict[int, str]
) -> list[_Group]:
    groups = []
    for one in conditions:
        found = book.observed(one)
        if found is not None and one.material is not None:
            lives = ending_in(found.lives, mode)
            evidence = replace(lives.evidence, taps=found.taps)
            groups.append(_Group(names[one.material], one.speed_band, lives, evidence))
    return groups


def _comparison(by: str, groups: Sequence[_Group]) -> GroupComparison | None:
    if len(groups) < 2:
        return None
    try:
        found = compare_lives([_at_middles(group.lives) for group in groups])
    except InputError:
        return None
    compared = tuple(
        Compared(
            group.material if by == "material" or group.speed_band is None else SpeedBand.parse(group.speed_band).told,
            group.evidence.taps,
            group.evidence.failures,
            float(expected),
        )
        for group, expected in zip(groups, found.expected, strict=True)
    )
    has_middles = any(bool(np.any(group.lives.is_failure & ~group.lives.is_exact)) for group in groups)
    return GroupComparison(by, compared, found.p_value, has_middles)


def _at_middles(lives: Lives) -> Lives:
    """Failures within an interval taken at its middle."""
    middle = np.where(lives.is_failure, (lives.lower + lives.upper) / 2, math.inf)
    return replace(lives, lower=np.where(lives.is_failure, middle, lives.lower), upper=middle)


def _effects(groups: Sequence[_Group], level: float) -> Effects | None:
    """Speed and material together, with a factor for each material that had a failure."""
    known = [group for group in groups if group.lives.failures]
    failures: dict[str, int] = {}
    for group in known:
        failures[group.material] = failures.get(group.material, 0) + group.lives.failures
    used = [group for group in groups if group.material in failures]
    others = sorted(failures, key=lambda name: -failures[name])
    has_speed = len({group.speed for group in known}) > 1
    count = has_speed + max(len(others) - 1, 0)
    if not count:
        return None
    left_out = tuple(sorted({group.material for group in groups} - failures.keys()))
    evidence = Evidence.total(group.evidence for group in used)
    reference = others[0] if len(others) > 1 else None

    def nothing(reason: str) -> Effects:
        return Effects((), reference, reason, evidence, left_out)

    if evidence.failures < FEWEST_EACH * count:
        return nothing(_too_few(evidence.failures, FEWEST_EACH * count))
    try:
        found = _fitted(used, others[1:], level, has_speed=has_speed)
    except InputError:
        return nothing(phrase("each material was used at its own speed, so that they cannot be told apart"))
    except NotConverged:
        return nothing(phrase("the lives do not bound them"))
    return Effects(found, reference, None, evidence, left_out)


def _too_few(failures: int, enough: int) -> str:
    return phrase("too few failures ({failures}); {enough} would be enough", failures=failures, enough=enough)


def _fitted(groups: Sequence[_Group], materials: Sequence[str], level: float, *, has_speed: bool) -> tuple[Effect, ...]:
    rows = tuple(_covariates(group, materials, has_speed=has_speed) for group in groups)
    names = ([None] if has_speed else []) + list(materials)
    ratios = _ratios(tuple(group.lives for group in groups), rows, level)
    return tuple(Effect(name, ratio) for name, ratio in zip(names, ratios, strict=True))


def _ratios(lives: tuple[Lives, ...], rows: tuple[tuple[float, ...], ...], level: float) -> tuple[Estimate, ...]:
    """Effects by Weibull regression, one per covariate column, with profile-likelihood intervals."""
    columns = ("lower", "upper", "entry", "mode", "count")
    every = Lives(*(np.concatenate([getattr(one, column) for one in lives]) for column in columns))
    fit = fit_regression(every, np.repeat(np.array(rows), [len(one) for one in lives], axis=0))
    ends = [fit.interval(place, level) for place in range(1, len(fit.coefficients))]
    if np.any(np.abs(ends) > BEYOND_SENSE):
        raise NotConverged("effects on life")
    told = zip(np.exp(fit.coefficients[1:]), np.exp(ends), strict=True)
    return tuple(Estimate(float(value), float(low), float(high), level) for value, (low, high) in told)


def _covariates(group: _Group, materials: Sequence[str], *, has_speed: bool) -> tuple[float, ...]:
    speed = (math.log2(group.speed),) if has_speed else ()
    return (*speed, *(float(group.material == name) for name in materials))
