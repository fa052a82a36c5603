"""Tables of what the shop has: tap types, taps, materials, stations, people, jobs."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import CheckConstraint, ForeignKey, Numeric, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopfloor.core.floor.hole_conditions import HoleConditions
from shopfloor.core.units import Units
from shopfloor.core.vocabulary import Chamfer, HoleMaking, IsoGroup, Lubricant, Role, StationKind, Substrate, TapStyle
from shopfloor.store.base import LONGEST_CODE, LONGEST_NAME, Base, UtcTime, words
from shopfloor.store.on_record import Coded, OnRecord


class ShopFact(OnRecord, Base):
    """A named fact about the whole record."""

    __tablename__ = "shop_fact"

    name: Mapped[str] = mapped_column(String(LONGEST_CODE), primary_key=True)
    value: Mapped[str] = mapped_column(String(LONGEST_NAME))


class TapType(Coded, Base):
    """A kind of tap that the crib orders: what it is, from whom, at what price and lead time."""

    __tablename__ = "tap_type"

    id: Mapped[int] = mapped_column(primary_key=True)
    thread: Mapped[str | None] = mapped_column(String(LONGEST_CODE))
    style: Mapped[TapStyle | None] = mapped_column(words(TapStyle, "style"))
    chamfer: Mapped[Chamfer | None] = mapped_column(words(Chamfer, "chamfer"))
    substrate: Mapped[Substrate | None] = mapped_column(words(Substrate, "substrate"))
    coating: Mapped[str | None] = mapped_column(String(LONGEST_CODE))
    supplier: Mapped[str | None] = mapped_column(String(LONGEST_NAME))
    unit_cost: Mapped[Decimal | None] = mapped_column(Numeric(10, 2))
    lead_time_days: Mapped[int | None]
    bin: Mapped[str | None] = mapped_column(String(LONGEST_CODE))
    """Their place in the crib."""

    __table_args__ = (
        CheckConstraint("unit_cost >= 0", name="unit_cost"),
        CheckConstraint("lead_time_days >= 0", name="lead_time_days"),
    )


class Material(Coded, Base):
    """A work material with its ISO 513 group and Brinell hardness."""

    __tablename__ = "material"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(LONGEST_NAME))
    iso_group: Mapped[IsoGroup | None] = mapped_column(words(IsoGroup, "iso_group"))
    hardness_hb: Mapped[int | None]


class Station(Coded, Base):
    """What turns the tap, its speeds, and what it can drive: torque, reducer, largest thread by ISO 513 group."""

    __tablename__ = "station"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(LONGEST_NAME))
    kind: Mapped[StationKind | None] = mapped_column(words(StationKind, "kind"))
    rpm_min: Mapped[int | None]
    rpm_max: Mapped[int | None]
    torque_nm: Mapped[float | None]
    reducer_ratio: Mapped[float | None]
    largest_p: Mapped[str | None] = mapped_column(String(LONGEST_CODE))
    largest_m: Mapped[str | None] = mapped_column(String(LONGEST_CODE))
    largest_k: Mapped[str | None] = mapped_column(String(LONGEST_CODE))
    largest_n: Mapped[str | None] = mapped_column(String(LONGEST_CODE))
    largest_s: Mapped[str | None] = mapped_column(String(LONGEST_CODE))
    largest_h: Mapped[str | None] = mapped_column(String(LONGEST_CODE))

    __table_args__ = (
        CheckConstraint("rpm_min > 0 AND rpm_max >= rpm_min", name="rpm"),
        CheckConstraint("torque_nm > 0", name="torque_nm"),
        CheckConstraint("reducer_ratio > 0", name="reducer_ratio"),
    )

    def largest_threads(self) -> dict[IsoGroup, str]:
        """The largest thread in each group of materials, where one is stated."""
        stated = {group: getattr(self, f"largest_{group.value.lower()}") for group in IsoGroup}
        return {group: thread for group, thread in stated.items() if thread}


class Person(Coded, Base):
    """Somebody who works in the shop."""

    __tablename__ = "person"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(LONGEST_NAME))
    roles: Mapped[list[PersonRole]] = relationship(cascade="all", lazy="selectin")


class PersonRole(OnRecord, Base):
    """One role of one person. It is taken away by saying first that it `ends`, so that it is known who took it."""

    __tablename__ = "person_role"

    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), primary_key=True)
    role: Mapped[Role] = mapped_column(words(Role, "role"), primary_key=True)
    ends: Mapped[bool | None]


class Tap(Coded, Base):
    """One tap. `holes_before` counts the holes on it when first seen: 0 none, NULL unknown."""

    __tablename__ = "tap"

    id: Mapped[int] = mapped_column(primary_key=True)
    tap_type_id: Mapped[int] = mapped_column(ForeignKey("tap_type.id"), index=True)
    lot: Mapped[str | None] = mapped_column(String(LONGEST_CODE))
    regrinds: Mapped[int] = mapped_column(default=0)
    holes_before: Mapped[int | None]
    received_at: Mapped[datetime | None] = mapped_column(UtcTime)

    tap_type: Mapped[TapType] = relationship(lazy="joined")

    __table_args__ = (
        CheckConstraint("regrinds >= 0", name="regrinds"),
        CheckConstraint("holes_before >= 0", name="holes_before"),
    )


class Job(Coded, Base):
    """A part number with what is known of its tapped holes.

    `units` are those of its drawing, None: the shop's; stored are millimetres.
    `drilled_mm` is the hole's diameter before tapping, `drill_depth_mm` how deep a blind one has that diameter.
    """

    __tablename__ = "job"

    id: Mapped[int] = mapped_column(primary_key=True)
    part: Mapped[str] = mapped_column(String(LONGEST_NAME))
    material_id: Mapped[int] = mapped_column(ForeignKey("material.id"))
    thread: Mapped[str | None] = mapped_column(String(LONGEST_CODE))
    holes_per_part: Mapped[int | None]
    depth_mm: Mapped[float | None]
    is_blind: Mapped[bool | None]
    hole_making: Mapped[HoleMaking | None] = mapped_column(words(HoleMaking, "hole_making"))
    drilled_mm: Mapped[float | None]
    drill_depth_mm: Mapped[float | None]
    is_chamfered: Mapped[bool | None]
    is_reamed: Mapped[bool | None]
    planned_quantity: Mapped[int | None]
    due_on: Mapped[date | None]
    planned_rpm: Mapped[int | None]
    units: Mapped[Units | None] = mapped_column(words(Units, "units"))
    is_open: Mapped[bool] = mapped_column(default=True)

    material: Mapped[Material] = relationship(lazy="joined")

    __table_args__ = (
        CheckConstraint("holes_per_part > 0", name="holes_per_part"),
        CheckConstraint("planned_quantity > 0", name="planned_quantity"),
        CheckConstraint("depth_mm > 0", name="depth_mm"),
        CheckConstraint("drilled_mm > 0", name="drilled_mm"),
        CheckConstraint("drill_depth_mm > 0", name="drill_depth_mm"),
    )

    def hole_conditions(self, lubricant: Lubricant | None) -> HoleConditions:
        """What its holes are like for a tap with this lubricant."""
        return HoleConditions.told(self.is_blind, self.hole_making, self.is_reamed, lubricant, self.depth_mm)
