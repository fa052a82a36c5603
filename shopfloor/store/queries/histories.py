"""Every usable life with what it was spent on, as the pooled posterior reads it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import NamedTuple

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.cutting import M_MIN, SpeedBand
from shopfloor.core.pool.conditions import Condition, History, Use
from shopfloor.core.vocabulary import IsoGroup, Mode
from shopfloor.store import LifeStretch, Material, Tap, TapLife
from shopfloor.store.queries.lives import Situation


class UseRow(NamedTuple):
    """One stretch of a life, with what is known of the life's end."""

    tap: int
    number: int
    tap_type: int
    material: int
    speed_band: str
    start: int
    end: int
    entry: int | None
    lower: int
    upper: int | None
    mode: Mode | None


def use_rows(session: Session) -> tuple[UseRow, ...]:
    """What was used where, life by life: equal where the log tells the same."""
    query = (
        select(
            LifeStretch.tap_id, LifeStretch.number, Tap.tap_type_id, LifeStretch.material_id, LifeStretch.speed_band,
            LifeStretch.start, LifeStretch.end, TapLife.entry, TapLife.lower, TapLife.upper, TapLife.mode,
        )
        .join(TapLife, (TapLife.tap_id == LifeStretch.tap_id) & (TapLife.number == LifeStretch.number))
        .join(Tap, Tap.id == LifeStretch.tap_id)
        .where(TapLife.lower.is_not(None))
        .order_by(LifeStretch.tap_id, LifeStretch.number, LifeStretch.ordinal)
    )  # fmt: skip
    return tuple(UseRow._make(row) for row in session.execute(query))


def iso_groups(session: Session) -> dict[int, IsoGroup | None]:
    """The ISO group of each material."""
    return {row.id: row.iso_group for row in session.execute(select(Material.id, Material.iso_group))}


def condition_of(situation: Situation, groups: Mapping[int, IsoGroup | None]) -> Condition:
    """The situation as a condition: its speed is the middle of its band, unknown where only the rpm are."""
    material = situation.material
    return Condition(
        family=str(situation.tap_type),
        material=str(material),
        iso_group=None if material is None else groups.get(material),
        speed=None if situation.speed_band is None else _middle(situation.speed_band),
        traits=() if situation.speed_band is None else _band_without_diameter(situation.speed_band),
    )


def histories_of(
    rows: Sequence[UseRow], groups: Mapping[int, IsoGroup | None]
) -> tuple[tuple[Condition, ...], list[History]]:
    """The conditions that occur, and every life with its uses of them."""
    places: dict[Condition, int] = {}
    histories = []
    for _, stretches in groupby(rows, key=lambda row: (row.tap, row.number)):
        of_life = list(stretches)
        uses = []
        for row in of_life:
            condition = condition_of(Situation(row.tap_type, row.material, row.speed_band), groups)
            uses.append(Use(places.setdefault(condition, len(places)), row.end - row.start))
        end = of_life[-1]
        upper, mode = math.inf if end.upper is None else end.upper, "" if end.mode is None else end.mode.value
        histories.append(History(tuple(uses), end.lower, upper, end.entry or 0, mode))
    return tuple(places), histories


def _middle(label: str) -> float | None:
    band = SpeedBand.parse(label)
    return math.sqrt(band.low * band.high) if band.unit == M_MIN else None


def _band_without_diameter(label: str) -> tuple[tuple[str, str], ...]:
    """A band in rpm keeps its own effect: without a diameter no power law can place it."""
    return () if SpeedBand.parse(label).unit == M_MIN else (("speed band", label),)
