"""How long taps of one type live in one material and speed: curves, figures and the age at which to change."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError
from shopfloor.core.floor.cutting import SpeedBand
from shopfloor.core.life_table.round_ages import round_ages
from shopfloor.core.phrases import phrase
from shopfloor.core.survival.censored_data import Evidence, Lives
from shopfloor.core.survival.estimates import Band
from shopfloor.core.survival.survival_curve import SurvivalCurve, survival_curve
from shopfloor.core.units import AgeUnit
from shopfloor.core.vocabulary import Mode
from shopfloor.core.weibull_fit.fit import LifeResult
from shopfloor.core.weibull_fit.goodness_of_fit import GoodnessOfFit
from shopfloor.services.advice.derived import derived
from shopfloor.services.advice.life_book import Advice, GroupLife, LifeBook, ending_in
from shopfloor.services.quality.breakage import known
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
from shopfloor.store.queries.lives import Situation

BEYOND = 1.3
"""How far past the data the fitted curve is drawn at most, as a multiple of the longest life followed."""

_POINTS, _POINTS_BEYOND = 60, 12
_CURVES_KEPT = 256


@dataclass(frozen=True)
class LifeQuestion:
    """What to show: codes as the pages know them, None for any; `mode` None for breaking and wearing together."""

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
    """Everything about the lives in one situation, seen for one mode or for both.

    Ages are in `unit`. `inside` and `beyond` are the fitted law as far as the data go, and a little further; `rows` the
    same at round ages with the step curve's value there. `goodness` says whether the law fits; `endings` how they end,
    None where one mode alone is looked at.
    """

    lives: Lives
    evidence: Evidence
    steps: SurvivalCurve
    fit: LifeResult
    inside: Band
    beyond: Band
    rows: tuple[Row, ...]
    goodness: GoodnessOfFit
    endings: Endings | None
    unit: AgeUnit


@dataclass(frozen=True)
class Row:
    """Shares still good at one age. `steps` is None beyond the data, `fitted` None where there is no fit."""

    age: float
    steps: float | None
    steps_band: tuple[float, float] | None
    fitted: float | None
    fitted_band: tuple[float, float]


@dataclass(frozen=True, eq=False)
class LifeFinding:
    """The answer to a question, which names what was chosen in the end; `curve` None where there is no such life.

    `advice` is for one material at one speed: where they are left open, for `advised_for`, of which most is known.
    """

    question: LifeQuestion
    material_name: str | None
    choices: Choices
    curve: LifeCurve | None
    advice: Advice | None
    advised_for: str | None = None
    groups: LifeGroups | None = None

    @property
    def change_at(self) -> float | None:
        """The age at which to change, as the curve counts ages; None where no change is suggested."""
        advice, curve = self.advice, self.curve
        if advice is None or advice.change_at is None or curve is None:
            return None
        if advice.thread is None:
            return float(advice.change_at)
        return 1000 * advice.thread.length_m(advice.change_at) / curve.unit.mm


def life_curve(work: Work, question: LifeQuestion) -> LifeFinding:
    """Life curve of the chosen tap type, material and speed; without a tap type, of the one with most failures.

    Raises
    ------
    InputError    an unknown code, a speed without its material; names the field
    """
    with work.read() as session:
        types = lives_by_tap_type(session)
        question = _with_tap_type(question, types)
        situation, name = _situation(session, question)
        choices = _choices(session, question, situation, types)
        if situation is None:
            return LifeFinding(question, name, choices, None, None)
        book = LifeBook.open(work, session, [situation.tap_type])
        group = book.group(situation)
        curve = None if group is None else _curve(group, question.mode, book.unit(situation.tap_type))
        if group is None:
            return LifeFinding(question, name, choices, None, None)
        known, is_only = _best_known(book, situation)
        names = {key: name for key, (_, name) in materials(session).items()}
        where = None if is_only else _in_words(names[known.material or 0], known.speed_band)
        level = work.settings.level
        groups = life_groups(book, situation.tap_type, situation.material, question.mode, names, level)
        return LifeFinding(question, name, choices, curve, book.advice(known), where, groups)


def _in_words(material: str, speed_band: str | None) -> str:
    return phrase(
        "{material} at {speed}",
        material=material,
        speed=None if speed_band is None else SpeedBand.parse(speed_band).told,
    )


def _best_known(book: LifeBook, wide: Situation) -> tuple[Situation, bool]:
    """The exact situation within a wider one of which most is known, and whether it is the only one."""
    within = [one for one in book.situations() if wide in one.widened()]

    def known(one: Situation) -> tuple[int, int]:
        group = book.group(one)
        return (0, 0) if group is None else (group.evidence.failures, group.evidence.taps)

    return max(within, key=known), len(within) == 1


def _with_tap_type(question: LifeQuestion, types: list[KnownLives]) -> LifeQuestion:
    if question.tap_type is not None or not types:
        return question
    return replace(question, tap_type=max(types, key=lambda kind: (kind.failures, kind.lives)).code)


def _situation(session: Session, question: LifeQuestion) -> tuple[Situation | None, str | None]:
    """The question in keys of the record (None while there is nothing to choose), and the material's name."""
    names = materials(session)
    keys = {code: key for key, (code, _) in names.items()}
    material = None if question.material is None else known(keys, "material", question.material)
    if question.speed_band is not None:
        if material is None:
            raise InputError.of("speed", "it needs a material", "choose a material too, or any speed")
        question = replace(question, speed_band=_band(question.speed_band))
    name = None if material is None else names[material][1]
    if question.tap_type is None:
        return None, name
    tap_type = known(tap_types_by_code(session), "tap_type", question.tap_type)
    return Situation(tap_type, material, question.speed_band), name


def _band(label: str) -> str:
    try:
        return SpeedBand.parse(label).label
    except InputError:
        raise InputError.of(
            "speed", phrase("'{label}' is not a speed band", label=label[:60]), "choose one from the list"
        ) from None


def _choices(session: Session, question: LifeQuestion, situation: Situation | None, types: list[KnownLives]) -> Choices:
    tap_types = tuple(Choice(kind.code, kind.code, kind.lives, kind.failures) for kind in types)
    if situation is None:
        return Choices(tap_types, (), ())
    names = materials(session)
    stretches = usable_stretches(session, situation.tap_type, {question.mode} if question.mode else set(Mode))
    by_material, by_band = defaultdict(list), defaultdict(list)
    for stretch in stretches:
        by_material[stretch.material].append(stretch)
        if stretch.material == situation.material:
            by_band[stretch.speed_band].append(stretch)
    in_order = sorted(by_material, key=lambda key: names[key][1])
    return Choices(
        tap_types,
        tuple(_choice(*names[key], by_material[key]) for key in in_order),
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
    # A life that passed through other work counts once, however many stretches it left here.
    evidence = replace(lives.evidence, taps=group.evidence.taps)
    ends = endings(lives, fit.level, unit) if mode is None else None
    drawn = _drawn(lives, fit, unit)
    return LifeCurve(lives, evidence, *drawn, judged(group, mode), ends, unit)


@derived(most=_CURVES_KEPT)
def _drawn(
    lives: Lives, fit: LifeResult, unit: AgeUnit
) -> tuple[SurvivalCurve, LifeResult, Band, Band, tuple[Row, ...]]:
    """Step curve, fit, and the fit's bands, kept by the lives: those of thousands take seconds."""
    steps = survival_curve(lives, fit.level)
    # A share that was at most so large does not rise again, however few taps are left to tell.
    steps = replace(steps, upper=np.minimum.accumulate(steps.upper))
    last = steps.last_age
    inside = fit.survival_band(np.linspace(0, last, _POINTS))
    beyond = fit.survival_band(np.linspace(last, BEYOND * last, _POINTS_BEYOND))
    return steps, fit, inside, beyond, _rows(steps, fit, unit)


def _rows(steps: SurvivalCurve, fit: LifeResult, unit: AgeUnit) -> tuple[Row, ...]:
    ages = round_ages(BEYOND * steps.last_age, unit)
    band = fit.survival_band(ages)
    return tuple(_row(steps, band, i) for i in range(len(ages)))


def _row(steps: SurvivalCurve, band: Band, i: int) -> Row:
    age = float(band.ages[i])
    fitted = None if band.survival is None else float(band.survival[i])
    fitted_band = float(band.lower[i]), float(band.upper[i])
    if age > steps.last_age:
        return Row(age, None, None, fitted, fitted_band)
    place = int(np.searchsorted(steps.ages, age, side="right")) - 1
    if place < 0:
        return Row(age, 1.0, None, fitted, fitted_band)
    steps_band = float(steps.lower[place]), float(steps.upper[place])
    return Row(age, float(steps.survival[place]), steps_band, fitted, fitted_band)
