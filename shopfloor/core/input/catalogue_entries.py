"""What a shop says of itself: its people, stations, materials, jobs and tap types, and what it counts tap life in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Self

from shopfloor.core.input.catalogue_reading import CatalogueEntry, EntryContext, read_answer, read_price, read_thread
from shopfloor.core.input.reader import Reader, shown
from shopfloor.core.input.run_entry import FASTEST_RPM, LONGEST_CODE, LONGEST_NAME
from shopfloor.core.phrases import both_lengths, phrase
from shopfloor.core.threads import find_thread
from shopfloor.core.units import Units
from shopfloor.core.vocabulary import (
    Chamfer,
    HoleMaking,
    IsoGroup,
    LifeMeasure,
    Role,
    StationKind,
    Substrate,
    TapStyle,
)

BLIND, THROUGH = "blind", "through"

_HARDEST_HB = 750
_MOST_PARTS = 10_000_000
_MOST_HOLES_A_PART = 10_000
_DEEPEST_MM = 1000.0
_WIDEST_MM = 300.0
_MOST_TORQUE_NM = 2000.0
_MOST_REDUCED = 20.0
_LONGEST_LEAD_DAYS = 730


@dataclass(frozen=True)
class PersonEntry(CatalogueEntry):
    """A person with one role, as somebody new has."""

    name: str | None
    roles: tuple[Role, ...]

    @classmethod
    def read(cls, reader: Reader, context: EntryContext) -> Self:
        """The name, and the 'role'."""
        role = reader.word("role", Role, required=True)
        return cls(reader.text("name", longest=LONGEST_NAME, required=True), (role,) if role else ())


@dataclass(frozen=True)
class KnownPersonEntry(PersonEntry):
    """A person with all their roles, or none."""

    @classmethod
    def read(cls, reader: Reader, context: EntryContext) -> Self:
        """The name, and the 'roles' with blanks between."""
        text = reader.text("roles", longest=LONGEST_CODE) or ""
        words = [Reader({"role": word}) for word in text.split()]
        roles = [one.word("role", Role) for one in words]
        reader.problems += [problem for one in words for problem in one.problems]
        name = reader.text("name", longest=LONGEST_NAME, required=True)
        return cls(name, tuple(role for role in roles if role))


@dataclass(frozen=True)
class StationEntry(CatalogueEntry):
    """A station, with its largest thread in each group of materials."""

    name: str | None
    kind: StationKind | None
    rpm_min: int | None
    rpm_max: int | None
    torque_nm: float | None
    reducer_ratio: float | None
    largest_p: str | None
    largest_m: str | None
    largest_k: str | None
    largest_n: str | None
    largest_s: str | None
    largest_h: str | None

    @classmethod
    def read(cls, reader: Reader, context: EntryContext) -> Self:
        """The fields by the names of the columns."""
        low, high = _speeds(reader)
        largest = (f"largest_{group.value.lower()}" for group in IsoGroup)
        return cls(
            name=reader.text("name", longest=LONGEST_NAME, required=True),
            kind=reader.word("kind", StationKind, required=True),
            rpm_min=low,
            rpm_max=high,
            torque_nm=reader.torque("torque_nm", 0.1, _MOST_TORQUE_NM),
            reducer_ratio=reader.decimal("reducer_ratio", 0.1, _MOST_REDUCED),
            **{name: read_thread(reader, name) for name in largest},
        )


@dataclass(frozen=True)
class MaterialEntry(CatalogueEntry):
    """A work material."""

    name: str | None
    iso_group: IsoGroup | None
    hardness_hb: int | None

    @classmethod
    def read(cls, reader: Reader, context: EntryContext) -> Self:
        """The fields by the names of the columns."""
        return cls(
            name=reader.text("name", longest=LONGEST_NAME, required=True),
            iso_group=reader.word("iso_group", IsoGroup, required=True),
            hardness_hb=reader.whole("hardness_hb", 1, _HARDEST_HB),
        )


@dataclass(frozen=True)
class JobEntry(CatalogueEntry):
    """A part number and its tapped holes. `units` None: those of the shop."""

    part: str | None
    material_id: int | None
    thread: str | None
    holes_per_part: int | None
    units: Units | None
    depth_mm: float | None
    is_blind: bool | None
    hole_making: HoleMaking | None
    drilled_mm: float | None
    drill_depth_mm: float | None
    is_chamfered: bool | None
    is_reamed: bool | None
    planned_quantity: int | None
    due_on: date | None
    planned_rpm: int | None

    @classmethod
    def read(cls, reader: Reader, context: EntryContext) -> Self:
        """The fields by the names of the columns, but the code of the 'material' and the kind of 'hole'."""
        material_id = _material(reader, context)
        thread = read_thread(reader, "thread", required=True)
        is_blind = _is_blind(reader)
        units = reader.word("units", Units)
        lengths = units or reader.units
        return cls(
            part=reader.text("part", longest=LONGEST_NAME, required=True),
            material_id=material_id,
            thread=thread,
            holes_per_part=reader.whole("holes_per_part", 1, _MOST_HOLES_A_PART, required=True),
            units=units,
            depth_mm=reader.length("depth_mm", 0.1, _DEEPEST_MM, lengths),
            is_blind=is_blind,
            hole_making=reader.word("hole_making", HoleMaking, required=True),
            drilled_mm=_drilled_mm(reader, thread, lengths),
            drill_depth_mm=reader.length("drill_depth_mm", 0.1, _DEEPEST_MM, lengths),
            is_chamfered=read_answer(reader, "is_chamfered"),
            is_reamed=read_answer(reader, "is_reamed"),
            planned_quantity=reader.whole("planned_quantity", 1, _MOST_PARTS),
            due_on=reader.day("due_on"),
            planned_rpm=reader.whole("planned_rpm", 1, FASTEST_RPM),
        )


@dataclass(frozen=True)
class TapTypeEntry(CatalogueEntry):
    """A kind of tap that the crib buys."""

    thread: str | None
    style: TapStyle | None
    chamfer: Chamfer | None
    substrate: Substrate | None
    coating: str | None
    supplier: str | None
    unit_cost: Decimal | None
    lead_time_days: int | None
    bin: str | None

    @classmethod
    def read(cls, reader: Reader, context: EntryContext) -> Self:
        """The fields by the names of the columns."""
        return cls(
            thread=read_thread(reader, "thread", required=True),
            style=reader.word("style", TapStyle),
            chamfer=reader.word("chamfer", Chamfer),
            substrate=reader.word("substrate", Substrate),
            coating=reader.text("coating", longest=LONGEST_CODE),
            supplier=reader.text("supplier", longest=LONGEST_NAME),
            unit_cost=read_price(reader, "unit_cost"),
            lead_time_days=reader.whole("lead_time_days", 0, _LONGEST_LEAD_DAYS),
            bin=reader.text("bin", longest=LONGEST_CODE),
        )


def read_new_code(raw: Mapping[str, object]) -> str:
    """Another code for a thing ('new_code'); the record says whether it is free.

    Raises
    ------
    InputError    no code, or one that is too long
    """
    reader = Reader(raw)
    new = reader.text("new_code", longest=LONGEST_CODE, required=True)
    reader.finish()
    return new or ""


def read_life_measure(raw: Mapping[str, object]) -> LifeMeasure:
    """What tap life is counted in ('measure').

    Raises
    ------
    InputError    no measure, or one that is not known
    """
    reader = Reader(raw)
    measure = reader.word("measure", LifeMeasure, required=True)
    reader.finish()
    return measure or LifeMeasure.HOLES


def _speeds(reader: Reader) -> tuple[int | None, int | None]:
    low = reader.whole("rpm_min", 1, FASTEST_RPM, required=True)
    high = reader.whole("rpm_max", 1, FASTEST_RPM, required=True)
    if low is not None and high is not None and high < low:
        what = phrase("{high} is below the lowest speed, {low}", high=high, low=low)
        reader.problem("rpm_max", what, "give the highest speed it can run")
    return low, high


def _material(reader: Reader, context: EntryContext) -> int | None:
    code = reader.text("material", longest=LONGEST_CODE, required=True)
    found = context.find_material(code) if code else None
    if code and found is None:
        what = phrase("{material} is not a material of this shop", material=shown(code))
        reader.problem("material", what, "choose one that is listed")
    return found


def _is_blind(reader: Reader) -> bool | None:
    hole = reader.text("hole", longest=LONGEST_CODE, required=True)
    if hole and hole not in (BLIND, THROUGH):
        remedy = phrase("use {blind} or {through}", blind=BLIND, through=THROUGH)
        reader.problem("hole", phrase("{hole} is not known", hole=shown(hole)), remedy)
    return hole == BLIND if hole else None


def _drilled_mm(reader: Reader, thread: str | None, units: Units) -> float | None:
    """The diameter of the hole, which must leave metal for the thread."""
    drilled_mm = reader.length("drilled_mm", 0.1, _WIDEST_MM, units)
    if drilled_mm is None or thread is None or reader.problems:
        return drilled_mm
    found = find_thread(thread)
    if found is not None and drilled_mm >= found.major_mm:
        what = phrase("{drilled} leaves no metal for {thread}", drilled=both_lengths(drilled_mm), thread=thread)
        remedy = phrase("give the hole before tapping, below {major}", major=both_lengths(found.major_mm))
        reader.problem("drilled_mm", what, remedy)
    return drilled_mm
