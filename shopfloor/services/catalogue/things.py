"""What a shop must name before it can log: people, stations, materials, jobs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError
from shopfloor.core.floor.cutting import spindle_speeds
from shopfloor.core.input.codes import written_code
from shopfloor.core.input.reader import Reader, shown
from shopfloor.core.input.run_entry import FASTEST_RPM, LONGEST_CODE, LONGEST_NAME
from shopfloor.core.input.thread_text import thread_text
from shopfloor.core.phrases import both_lengths, joined, phrase, torque
from shopfloor.core.threads import find_thread
from shopfloor.core.units import Units
from shopfloor.core.vocabulary import HoleMaking, IsoGroup, Role, StationKind, Word
from shopfloor.services.record.codes import fill_in, find_in, problems_of_new
from shopfloor.services.record.life_summaries import refresh
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import Job, Material, Person, PersonRole, Run, Station

_HARDEST_HB = 750
_MOST_PARTS = 10_000_000
_MOST_HOLES_A_PART = 10_000
_DEEPEST_MM = 1000.0
_WIDEST_MM = 300.0
_MOST_TORQUE_NM = 2000.0
_MOST_REDUCED = 20.0
LARGEST = tuple(f"largest_{group.value.lower()}" for group in IsoGroup)
"""The station's largest thread in each group of materials."""

BLIND, THROUGH = "blind", "through"
_OTHER_CODE = phrase("give a code that is not listed yet, or change what is listed")


class Answer(Word):
    """Yes or no."""

    YES = "yes", "Yes"
    NO = "no", "No"


@dataclass(frozen=True)
class Listed:
    """One line of a list: its code, its name, and the rest in words."""

    code: str
    name: str
    details: str
    is_open: bool = True


@dataclass(frozen=True)
class Kind:
    """One kind of catalogue entry: how its fields are read and how it is listed."""

    table: type[Any]
    read: Callable[[Session, Reader], dict[str, Any]]
    listed: Callable[[Any], Listed]


@tried_again
def add(work: Work, kind: str, raw: Mapping[str, object], decimal_mark: str = ".", by: str | None = None) -> str:
    """Store a new thing of this kind, or complete one that an import made; returns its code.

    `decimal_mark` is the shop's, as `Reader` takes it; `by` is the code of whoever is known to add it.

    Raises
    ------
    InputError    every field that cannot be used; a code that is taken
    """
    table = KINDS[kind].table
    reader = Reader(raw, decimal_mark=decimal_mark, units=work.settings.drawn_in)
    code = reader.text("code", longest=LONGEST_CODE, required=True)
    with work.write(by) as session:
        values = KINDS[kind].read(session, reader)
        row = find_in(session, table, code) if code is not None else None
        if row is None:
            reader.problems += problems_of_new(session, table, code, "code") if code is not None else ()
            reader.finish()
            row = table(code=written_code(str(code)), **values)
            session.add(row)
        elif not fill_in(row, values, reader.problems):
            reader.problem("code", phrase("{code} is taken", code=shown(code)), _OTHER_CODE)
        elif table is Job:
            holes_changed(session, row.id)
        reader.finish()
        return str(row.code)


def holes_changed(session: Session, job: int) -> None:
    """Recompute the lives of all taps that worked on a job, since they depend on its holes."""
    refresh(session, list(session.scalars(select(Run.tap_id).where(Run.job_id == job).distinct())))


def listing(work: Work, kind: str) -> list[Listed]:
    """All things of this kind, by code."""
    table = KINDS[kind].table
    with work.read() as session:
        return [KINDS[kind].listed(row) for row in session.scalars(select(table).order_by(table.code)).unique()]


def set_job_open(work: Work, code: str, *, is_open: bool, by: str | None = None) -> None:
    """Close a finished job, or reopen it; its runs are not touched.

    Raises
    ------
    InputError    no such job
    """
    with work.write(by) as session:
        job = find_in(session, Job, code)
        if job is None:
            raise InputError.of(
                "job", phrase("{code} is not a job of this shop", code=shown(code)), "choose a job that is listed"
            )
        job.is_open = is_open


def _read_person(session: Session, reader: Reader) -> dict[str, Any]:
    role = reader.word("role", Role, required=True)
    return {
        "name": reader.text("name", longest=LONGEST_NAME, required=True),
        "roles": [PersonRole(role=role)] if role else [],
    }


def _read_station(session: Session, reader: Reader) -> dict[str, Any]:
    low = reader.whole("rpm_min", 1, FASTEST_RPM, required=True)
    high = reader.whole("rpm_max", 1, FASTEST_RPM, required=True)
    if low is not None and high is not None and high < low:
        reader.problem(
            "rpm_max",
            phrase("{high} is below the lowest speed, {low}", high=high, low=low),
            "give the highest speed it can run",
        )
    return {
        "name": reader.text("name", longest=LONGEST_NAME, required=True),
        "kind": reader.word("kind", StationKind, required=True),
        "rpm_min": low,
        "rpm_max": high,
        "torque_nm": reader.torque("torque_nm", 0.1, _MOST_TORQUE_NM),
        "reducer_ratio": reader.decimal("reducer_ratio", 0.1, _MOST_REDUCED),
        **{name: thread_text(reader, name) for name in LARGEST},
    }


def _read_material(session: Session, reader: Reader) -> dict[str, Any]:
    return {
        "name": reader.text("name", longest=LONGEST_NAME, required=True),
        "iso_group": reader.word("iso_group", IsoGroup, required=True),
        "hardness_hb": reader.whole("hardness_hb", 1, _HARDEST_HB),
    }


def _read_job(session: Session, reader: Reader) -> dict[str, Any]:
    material = reader.text("material", longest=LONGEST_CODE, required=True)
    row = find_in(session, Material, material) if material else None
    if material and row is None:
        reader.problem(
            "material",
            phrase("{material} is not a material of this shop", material=shown(material)),
            "choose one that is listed",
        )
    thread = thread_text(reader, "thread", required=True)
    hole = reader.text("hole", longest=LONGEST_CODE, required=True)
    if hole and hole not in (BLIND, THROUGH):
        reader.problem(
            "hole",
            phrase("{hole} is not known", hole=shown(hole)),
            phrase("use {blind} or {through}", blind=BLIND, through=THROUGH),
        )
    units = reader.word("units", Units)
    lengths = units or reader.units
    return {
        "part": reader.text("part", longest=LONGEST_NAME, required=True),
        "material_id": row.id if row else None,
        "thread": thread,
        "holes_per_part": reader.whole("holes_per_part", 1, _MOST_HOLES_A_PART, required=True),
        "units": units,
        "depth_mm": reader.length("depth_mm", 0.1, _DEEPEST_MM, lengths),
        "is_blind": hole == BLIND if hole else None,
        "hole_making": reader.word("hole_making", HoleMaking, required=True),
        "drilled_mm": _drilled_mm(reader, thread, lengths),
        "drill_depth_mm": reader.length("drill_depth_mm", 0.1, _DEEPEST_MM, lengths),
        "is_chamfered": _answer(reader, "is_chamfered"),
        "is_reamed": _answer(reader, "is_reamed"),
        "planned_quantity": reader.whole("planned_quantity", 1, _MOST_PARTS),
        "due_on": reader.day("due_on"),
        "planned_rpm": reader.whole("planned_rpm", 1, FASTEST_RPM),
    }


def _drilled_mm(reader: Reader, thread: str | None, units: Units) -> float | None:
    """The diameter of the hole, which must leave metal for the thread."""
    drilled_mm = reader.length("drilled_mm", 0.1, _WIDEST_MM, units)
    if drilled_mm is None or thread is None or reader.problems:
        return drilled_mm
    found = find_thread(thread)
    if found is not None and drilled_mm >= found.major_mm:
        what = phrase("{drilled} leaves no metal for {thread}", drilled=both_lengths(drilled_mm), thread=thread)
        reader.problem(
            "drilled_mm",
            what,
            phrase("give the hole before tapping, below {major}", major=both_lengths(found.major_mm)),
        )
    return drilled_mm


def _answer(reader: Reader, field: str) -> bool | None:
    answer = reader.word(field, Answer)
    return None if answer is None else answer is Answer.YES


def _list_person(row: Person) -> Listed:
    return Listed(row.code, row.name, joined(role.role.label for role in row.roles))


def _list_station(row: Station) -> Listed:
    details = [row.kind.label if row.kind else phrase("kind not given")]
    if row.rpm_min and row.rpm_max:
        details.append(spindle_speeds(row.rpm_min, row.rpm_max))
    if row.torque_nm:
        details.append(joined([torque(row.torque_nm)]))
    return Listed(row.code, row.name, joined(details))


def _list_material(row: Material) -> Listed:
    details = [row.iso_group.label if row.iso_group else phrase("group not given")]
    if row.hardness_hb:
        details.append(phrase("{hardness} HB", hardness=row.hardness_hb))
    return Listed(row.code, row.name, joined(details))


def _list_job(row: Job) -> Listed:
    thread = row.thread or phrase("thread not given")
    details = phrase("{thread} in {material}", thread=thread, material=row.material.name)
    if row.depth_mm:
        details = phrase("{details}, {depth} deep", details=details, depth=both_lengths(row.depth_mm))
    if row.drilled_mm:
        details = phrase("{details}, drilled {diameter}", details=details, diameter=both_lengths(row.drilled_mm))
    if row.planned_quantity:
        details = joined([details, phrase("{n} parts", n=row.planned_quantity)])
    if row.due_on:
        details = phrase("{details} by {day}", details=details, day=row.due_on)
    return Listed(row.code, row.part, details, row.is_open)


KINDS = {
    "people": Kind(Person, _read_person, _list_person),
    "stations": Kind(Station, _read_station, _list_station),
    "materials": Kind(Material, _read_material, _list_material),
    "jobs": Kind(Job, _read_job, _list_job),
}
