"""Every usable life with its conditions, as the pooled posterior needs it."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby
from typing import Any, NamedTuple

from sqlalchemy import String, TypeCoerce, select, type_coerce
from sqlalchemy.orm import InstrumentedAttribute, Session

from shopfloor.core.floor.cutting import M_MIN, CuttingConditions, SpeedBand
from shopfloor.core.floor.hole_conditions import HoleConditions
from shopfloor.core.hierarchical.model.conditions import REGROUND, Condition, History, Trait, Traits, Use
from shopfloor.core.vocabulary import HoleMaking, IsoGroup, Lubricant
from shopfloor.store import LifeStretch, Material, Tap, TapLife, TapType

_MAKINGS = {word.value: word for word in HoleMaking}
_LUBRICANTS = {word.value: word for word in Lubricant}


class UseRow(NamedTuple):
    """One stretch of a life, with what is known of the life's end; words stay as stored, since there are many rows."""

    tap: int
    number: int
    tap_type: int
    material: int
    speed_band: str
    is_blind: bool | None
    making: str | None
    lubricant: str | None
    depth_mm: float | None
    start: float
    end: float
    entry: float | None
    lower: float
    upper: float | None
    mode: str | None
    runs: int

    @property
    def kind(self) -> tuple[object, ...]:
        """What `cutting` and `hole` depend on."""
        return self[2:8]

    @property
    def cutting(self) -> CuttingConditions:
        """The tap type, the material, the speed band."""
        return CuttingConditions(self.tap_type, self.material, self.speed_band)

    @property
    def hole(self) -> HoleConditions:
        """What the holes were like, except for their depth, which counts as length of thread instead."""
        return HoleConditions(
            self.is_blind,
            None if self.making is None else _MAKINGS[self.making],
            None if self.lubricant is None else _LUBRICANTS[self.lubricant],
        )


@dataclass(frozen=True)
class CatalogueFacts:
    """What the catalogue says about materials and tap types, by key; comparable by value."""

    iso_groups: tuple[tuple[int, IsoGroup | None], ...]
    coatings: tuple[tuple[int, str | None], ...]

    @classmethod
    def of(
        cls, groups: Iterable[tuple[int, IsoGroup | None]], coatings: Iterable[tuple[int, str | None]]
    ) -> CatalogueFacts:
        """From the groups of materials and the coatings of tap types, as they were typed."""
        return cls(
            tuple(groups), tuple((key, coating.strip().casefold() if coating else None) for key, coating in coatings)
        )

    def completed(self, newer: CatalogueFacts) -> CatalogueFacts:
        """These facts, and of what they do not know the newer ones."""
        groups, coatings = newer.group_of | self.group_of, newer.coating_of | self.coating_of
        return CatalogueFacts(tuple(groups.items()), tuple(coatings.items()))

    def knows(self, cutting: CuttingConditions) -> bool:
        """Whether tap type and material are among them."""
        return cutting.tap_type in self.coating_of and (cutting.material is None or cutting.material in self.group_of)

    @cached_property
    def group_of(self) -> dict[int, IsoGroup | None]:
        """The ISO group of each material."""
        return dict(self.iso_groups)

    @cached_property
    def coating_of(self) -> dict[int, str | None]:
        """The coating of each tap type."""
        return dict(self.coatings)

    def condition(self, cutting: CuttingConditions, hole: HoleConditions, *, is_reground: bool) -> Condition:
        """Both as the model's covariates: the speed is the middle of its band, unknown for a band in rpm."""
        material, band = cutting.material, cutting.speed_band
        return Condition(
            family=str(cutting.tap_type),
            material=str(material),
            iso_group=None if material is None else self.group_of.get(material),
            speed=None if band is None else _middle(band),
            traits=_traits(band, hole, self.coating_of.get(cutting.tap_type), is_reground=is_reground),
        )


def catalogue_facts(session: Session) -> CatalogueFacts:
    """What the catalogue says now."""
    groups = session.execute(select(Material.id, Material.iso_group).order_by(Material.id))
    coatings = session.execute(select(TapType.id, TapType.coating).order_by(TapType.id))
    return CatalogueFacts.of(((key, group) for key, group in groups), ((key, coating) for key, coating in coatings))


def use_rows(session: Session, taps: Collection[int] | None = None) -> tuple[UseRow, ...]:
    """All stretches, or those of some taps, life by life; equal for equal logs."""
    query = (
        select(
            LifeStretch.tap_id, LifeStretch.number, Tap.tap_type_id, LifeStretch.material_id, LifeStretch.speed_band,
            LifeStretch.is_blind, _as_kept(LifeStretch.hole_making), _as_kept(LifeStretch.lubricant),
            LifeStretch.depth_mm, LifeStretch.start, LifeStretch.end,
            TapLife.entry, TapLife.lower, TapLife.upper, _as_kept(TapLife.mode),
            LifeStretch.runs,
        )
        .join(TapLife, (TapLife.tap_id == LifeStretch.tap_id) & (TapLife.number == LifeStretch.number))
        .join(Tap, Tap.id == LifeStretch.tap_id)
        .where(TapLife.lower.is_not(None), *(() if taps is None else (LifeStretch.tap_id.in_(taps),)))
        .order_by(LifeStretch.tap_id, LifeStretch.number, LifeStretch.ordinal)
    )  # fmt: skip
    return tuple(UseRow._make(row) for row in session.execute(query))


def histories_of(rows: Sequence[UseRow], catalogue: CatalogueFacts) -> tuple[tuple[Condition, ...], list[History]]:
    """The conditions that occur, and every life with its uses of them."""
    kept: dict[tuple[object, ...], int] = {}
    conditions: list[Condition] = []
    histories = []
    for _, stretches in groupby(rows, key=lambda row: (row.tap, row.number)):
        of_life = list(stretches)
        uses = []
        for row in of_life:
            key = (*row.kind, row.number > 0)
            if key not in kept:
                kept[key] = len(conditions)
                conditions.append(catalogue.condition(row.cutting, row.hole, is_reground=row.number > 0))
            uses.append(Use(kept[key], row.end - row.start))
        end = of_life[-1]
        upper = math.inf if end.upper is None else end.upper
        histories.append(History(tuple(uses), end.lower, upper, end.entry or 0, end.mode or ""))
    return tuple(conditions), histories


def _as_kept(column: InstrumentedAttribute[Any]) -> TypeCoerce[Any]:
    return type_coerce(column, String)


def _middle(label: str) -> float | None:
    band = SpeedBand.parse(label)
    return math.sqrt(band.low * band.high) if band.unit == M_MIN else None


def _traits(band: str | None, hole: HoleConditions, coating: str | None, *, is_reground: bool) -> Traits:
    """The known ones; a band in rpm has its own effect: without a diameter the power law cannot place it."""
    is_placed = band is None or SpeedBand.parse(band).unit == M_MIN
    ending = None if hole.is_blind is None else "blind" if hole.is_blind else "through"
    known = (
        (Trait.SPEED_BAND, None if is_placed else band),
        (Trait.HOLE, ending),
        (Trait.MAKING, hole.making and hole.making.value),
        (Trait.LUBRICANT, hole.lubricant and hole.lubricant.value),
        (Trait.REGRIND, REGROUND if is_reground else None),
        (Trait.COATING, coating),
    )
    return tuple((what, which) for what, which in known if which)
