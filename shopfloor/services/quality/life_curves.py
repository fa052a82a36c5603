"""How long taps of one type last in one material at one speed: curves, figures and the age at which to change."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError
from shopfloor.core.floor.cutting import CuttingConditions, SpeedBand
from shopfloor.core.life_table.round_ages import round_ages
from shopfloor.core.phrases import phrase
from shopfloor.core.survival.censored_data import Evidence, Lives
from shopfloor.core.survival.estimates import Band
from shopfloor.core.survival.survival_curve import SurvivalCurve, survival_curve
from shopfloor.core.units import AgeUnit
from shopfloor.core.vocabulary import Mode
from shopfloor.core.weibull_fit.fit import LifeResult
from shopfloor.core.weibull_fit.goodness_of_fit import GoodnessOfFit
from shopfloor.services.advice.life_book import Advice, GroupLife, LifeBook, ending_in
from shopfloor.services.quality.breakage import key_of
from shopfloor.services.quality.careful_start import CarefulStart, careful_start
from shopfloor.services.quality.goodness import Endings, endings, judged
from shopfloor.services.quality.life_comparisons import LifeGroups, life_groups
from shopfloor.services.record.work import Work
from shopfloor.store.queries.findings import (
    KnownLives,
    KnownStretch,
    lives_by_tap_type,
    materials,
    tap_types_by_code,
    usable_stretches,
)

BEYOND = 1.3
"""How far beyond the data the fitted curve is drawn, as a multiple of the longest life observed."""

_POINTS, _POINTS_BEYOND = 60, 12

Materials = Mapping[int, tuple[str, str]]
"""Code and name of each material by its key."""


@dataclass(frozen=True)
class LifeQuestion:
    """What to show: codes, None for any; `mode` None for breaking and wearing together."""

    tap_type: str | None = None
    material: str | None = None
    speed_band: str | None = None
    mode: Mode | None = None


@dataclass(frozen=True)
class Choice:
    """One entry of a list to choose from, with the lives and failures behind it."""

    value: str
    label: str
    lives: int
    failures: int


@dataclass(frozen=True)
class Choices:
    """What exists: tap types, materials of the chosen type, speed bands of the chosen material."""

    tap_types: tuple[Choice, ...]
    materials: tuple[Choice, ...]
    speed_bands: tuple[Choice, ...]


@dataclass(frozen=True, eq=False)
class LifeCurve:
    """Everything about the lives under the same cutting conditions, for one mode or for both.

    Ages are in `unit`. `inside` and `beyond` are the fitted curve as far as the data go, and a little further; `rows`
    are the same at round ages with the step curve's value there. `goodness` is the goodness of fit; `endings` how lives
    end, None for a single mode.
    """

    lives: Lives
    evidence: Evidence
    steps: SurvivalCurve
    fit: LifeResult
    inside: Band
    beyond: Band
    rows: tuple[SharesAtAge, ...]
    goodness: GoodnessOfFit
    endings: Endings | None
    unit: AgeUnit


@dataclass(frozen=True)
class SharesAtAge:
    """Shares still good at one age. `steps` is None beyond the data, `fitted` None where there is no fit."""

    age: float
    steps: float | None
    steps_band: tuple[float, float] | None
    fitted: float | None
    fitted_band: tuple[float, float]


@dataclass(frozen=True, eq=False)
class LifeFinding:
    """The answer to a question, which names the final choice; `curve` None if there is no such life.

    `advice` is for one material at one speed: if they were left open, for `advised_for`, of which most is known.
    `as_of` tells when all of it was worked out; None: from the log as it is now. `is_ready` False: it has not been yet.
    """

    question: LifeQuestion
    material_name: str | None
    choices: Choices
    curve: LifeCurve | None
    advice: Advice | None
    advised_for: str | None = None
    groups: LifeGroups | None = None
    start: CarefulStart | None = None
    as_of: datetime | None = None
    is_ready: bool = True

    @property
    def change_at(self) -> float | None:
        """The age at which to change, in the curve's unit; None if none is suggested for the whole curve."""
        advice, curve = self.advice, self.curve
        if advice is None or advice.change_at is None or curve is None or self.advised_for is not None:
            return None
        if advice.thread is None:
            return float(advice.change_at)
        return 1000 * advice.thread.length_m(advice.change_at) / curve.unit.mm


def life_curve(work: Work, question: LifeQuestion) -> LifeFinding:
    """Life curve of the chosen tap type, material and speed; without a tap type, of the one with the most failures.

    Raises
    ------
    InputError    an unknown code, a speed without its material; names the field
    """
    with work.read() as session:
        types = lives_by_tap_type(session)
        question = _with_tap_type(question, types)
        known = materials(session)
        names = {key: name for key, (_, name) in known.items()}
        cutting = _asked_for(session, question, known)
        choices = _choices(session, question, cutting, types, known)
        name = next((name for code, name in known.values() if code == question.material), None)
        if cutting is None:
            return LifeFinding(question, name, choices, None, None)
        book = LifeBook.open(work, session, [cutting.tap_type])
        group = book.group(cutting)
        if group is None:
            return LifeFinding(question, name, choices, None, None, is_ready=book.is_ready)
        unit, mode = book.unit(cutting.tap_type), question.mode
        # For thousands of lives it takes seconds.
        curve = book.once(
            cutting.tap_type, ("curve", cutting, mode, work.settings.level), lambda: _curve(group, mode, unit)
        )
        best, is_only = _best_known(book, cutting)
        where = None if is_only else _in_words(names[best.material or 0], best.speed_band)
        groups = life_groups(book, cutting.tap_type, cutting.material, question.mode, names, work.settings.level)
        advice = book.advice(best)
        return LifeFinding(
            question, name, choices, curve, advice, where, groups, careful_start(advice), as_of=book.as_of
        )


def _in_words(material: str, speed_band: str | None) -> str:
    return phrase(
        "{material} at {speed}",
        material=material,
        speed=None if speed_band is None else SpeedBand.parse(speed_band).told,
    )


def _best_known(book: LifeBook, wide: CuttingConditions) -> tuple[CuttingConditions, bool]:
    """The best-known exact conditions within wider ones, and whether they are the only ones."""
    within = [one for one in book.cutting_conditions() if wide in one.widened()]

    def evidence(one: CuttingConditions) -> tuple[int, int]:
        seen = book.observed(one)
        return (0, 0) if seen is None else (seen.evidence.failures, seen.taps)

    return max(within, key=evidence), len(within) == 1


def _with_tap_type(question: LifeQuestion, types: list[KnownLives]) -> LifeQuestion:
    if question.tap_type is not None or not types:
        return question
    return replace(question, tap_type=max(types, key=lambda kind: (kind.failures, kind.lives)).code)


def _asked_for(session: Session, question: LifeQuestion, known: Materials) -> CuttingConditions | None:
    """The question in keys of the record; None while there is nothing to choose."""
    keys = {code: key for key, (code, _) in known.items()}
    material = None if question.material is None else key_of(keys, "material", question.material)
    if question.speed_band is not None:
        if material is None:
            raise InputError.of("speed", "it needs a material", "choose a material too, or any speed")
        question = replace(question, speed_band=_band(question.speed_band))
    if question.tap_type is None:
        return None
    tap_type = key_of(tap_types_by_code(session), "tap_type", question.tap_type)
    return CuttingConditions(tap_type, material, question.speed_band)


def _band(label: str) -> str:
    try:
        return SpeedBand.parse(label).label
    except InputError:
        raise InputError.of(
            "speed", phrase("'{label}' is not a speed band", label=label[:60]), "choose one from the list"
        ) from None


def _choices(
    session: Session,
    question: LifeQuestion,
    cutting: CuttingConditions | None,
    types: list[KnownLives],
    known: Materials,
) -> Choices:
    tap_types = tuple(Choice(kind.code, kind.code, kind.lives, kind.failures) for kind in types)
    if cutting is None:
        return Choices(tap_types, (), ())
    stretches = usable_stretches(session, cutting.tap_type, {question.mode} if question.mode else set(Mode))
    by_material, by_band = defaultdict(list), defaultdict(list)
    for stretch in stretches:
        by_material[stretch.material].append(stretch)
        if stretch.material == cutting.material:
            by_band[stretch.speed_band].append(stretch)
    in_order = sorted(by_material, key=lambda key: known[key][1])
    return Choices(
        tap_types,
        tuple(_choice(*known[key], by_material[key]) for key in in_order),
        tuple(
            _choice(band, SpeedBand.parse(band).told, by_band[band]) for band in sorted(by_band, key=SpeedBand.parse)
        ),
    )


def _choice(value: str, label: str, stretches: Iterable[KnownStretch]) -> Choice:
    of = list(stretches)
    return Choice(value, label, len({stretch.life for stretch in of}), sum(stretch.failed for stretch in of))


def _curve(group: GroupLife, mode: Mode | None, unit: AgeUnit) -> LifeCurve:
    lives = ending_in(group.lives, mode)
    fit = group.both if mode is None else group.modes[mode.value]
    # A life interrupted by other work counts once, however many stretches it has here.
    evidence = replace(lives.evidence, taps=group.evidence.taps)
    ends = endings(lives, fit.level, unit) if mode is None else None
    drawn = _drawn(lives, fit, unit)
    return LifeCurve(lives, evidence, *drawn, judged(group, mode), ends, unit)


def _drawn(
    lives: Lives, fit: LifeResult, unit: AgeUnit
) -> tuple[SurvivalCurve, LifeResult, Band, Band, tuple[SharesAtAge, ...]]:
    """Step curve, fit, and the fit's bands."""
    steps = survival_curve(lives, fit.level)
    # An upper bound for survival cannot rise again, however few taps are left.
    steps = replace(steps, upper=np.minimum.accumulate(steps.upper))
    last = steps.last_age
    inside = fit.survival_band(np.linspace(0, last, _POINTS))
    beyond = fit.survival_band(np.linspace(last, BEYOND * last, _POINTS_BEYOND))
    return steps, fit, inside, beyond, _rows(steps, fit, unit)


def _rows(steps: SurvivalCurve, fit: LifeResult, unit: AgeUnit) -> tuple[SharesAtAge, ...]:
    ages = round_ages(BEYOND * steps.last_age, unit)
    band = fit.survival_band(ages)
    return tuple(_row(steps, band, i) for i in range(len(ages)))


def _row(steps: SurvivalCurve, band: Band, i: int) -> SharesAtAge:
    age = float(band.ages[i])
    fitted = None if band.survival is None else float(band.survival[i])
    fitted_band = float(band.lower[i]), float(band.upper[i])
    if age > steps.last_age:
        return SharesAtAge(age, None, None, fitted, fitted_band)
    place = int(np.searchsorted(steps.ages, age, side="right")) - 1
    if place < 0:
        return SharesAtAge(age, 1.0, None, fitted, fitted_band)
    steps_band = float(steps.lower[place]), float(steps.upper[place])
    return SharesAtAge(age, float(steps.survival[place]), steps_band, fitted, fitted_band)
