"""What a shop must name before it can log: people, stations, materials, jobs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.floor.cutting import spindle_speeds
from shopfloor.core.input.catalogue_entries import JobEntry, MaterialEntry, PersonEntry, StationEntry
from shopfloor.core.input.catalogue_reading import CatalogueEntry, EntryContext, read_new
from shopfloor.core.input.codes import written_code
from shopfloor.core.input.reader import shown
from shopfloor.core.phrases import both_lengths, joined, phrase, torque
from shopfloor.services.record.codes import fill_in, find_in, problems_of_new
from shopfloor.services.record.life_summaries import refresh
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import Job, Material, Person, PersonRole, Run, Station

_OTHER_CODE = phrase("give a code that is not listed yet, or change what is listed")


@dataclass(frozen=True)
class Listed:
    """One line of a list: its code, its name, and the rest in words."""

    code: str
    name: str
    details: str
    is_open: bool = True


@dataclass(frozen=True)
class Kind:
    """One kind of catalogue entry: what somebody says of a new one, and how it is listed."""

    table: type[Any]
    entry: type[CatalogueEntry]
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
    found: list[Problem] = []
    with work.write(by) as session:
        reading = read_new(KINDS[kind].entry, raw, entry_context(work, session, decimal_mark))
        code, entry = reading.entry
        row = find_in(session, table, code)
        if row is None:
            reading.accepted(problems_of_new(session, table, code, "code") if code else ())
            row = table(code=written_code(code), **_columns(entry))
            session.add(row)
        elif not fill_in(row, _columns(entry), found):
            found.append(Problem("code", phrase("{code} is taken", code=shown(code)), _OTHER_CODE))
        elif table is Job:
            holes_changed(session, row.id)
        reading.accepted(found)
        return str(row.code)


def entry_context(work: Work, session: Session, decimal_mark: str) -> EntryContext:
    """What is typed in this shop is read by this."""

    def find_material(code: str) -> int | None:
        row = find_in(session, Material, code)
        return None if row is None else row.id

    return EntryContext(decimal_mark, work.settings.drawn_in, find_material)


def _columns(entry: CatalogueEntry) -> dict[str, Any]:
    if isinstance(entry, PersonEntry):
        return {**vars(entry), "roles": [PersonRole(role=role) for role in entry.roles]}
    return vars(entry)


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
    "people": Kind(Person, PersonEntry, _list_person),
    "stations": Kind(Station, StationEntry, _list_station),
    "materials": Kind(Material, MaterialEntry, _list_material),
    "jobs": Kind(Job, JobEntry, _list_job),
}
