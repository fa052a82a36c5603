"""What an operator can choose from: stations, people, jobs and taps, the last used first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from shopfloor.core.errors import NotFound
from shopfloor.core.floor.cutting import spindle_speeds
from shopfloor.core.phrases import Phrase
from shopfloor.core.survival.estimates import Estimate
from shopfloor.core.threads import same_thread
from shopfloor.core.units import Units
from shopfloor.core.vocabulary import Lubricant, Role, TapState
from shopfloor.services.advice.outlook import Outlook, OutlookBook
from shopfloor.services.record.codes import find_in
from shopfloor.services.record.work import Work
from shopfloor.store import Job, Person, Run, Station, Tap, TapLife, TapType
from shopfloor.store.queries.log import counts
from shopfloor.store.queries.stock import WITHDRAWN

_LONG_AGO = datetime.min.replace(tzinfo=UTC)
_ALIVE = (TapState.UNUSED, TapState.IN_SERVICE)


@dataclass(frozen=True)
class StationChoice:
    """A station: what turns the tap, its speeds, and when it was last used."""

    code: str
    name: str
    kind: str | None
    rpm_min: int | None
    rpm_max: int | None
    last_at: datetime | None = None

    @property
    def speeds(self) -> Phrase | None:
        """Its speeds in words; None where nobody gave them."""
        return spindle_speeds(self.rpm_min, self.rpm_max) if self.rpm_min and self.rpm_max else None

    def clamped(self, rpm: int | None) -> int | None:
        """The station's speed nearest to `rpm`; its only speed if it has just one."""
        if self.rpm_min is None or self.rpm_max is None:
            return rpm
        if rpm is None:
            return self.rpm_min if self.rpm_min == self.rpm_max else None
        return min(max(rpm, self.rpm_min), self.rpm_max)


@dataclass(frozen=True)
class PersonChoice:
    """A person, and when they last worked at the station."""

    code: str
    name: str
    last_at: datetime | None = None


@dataclass(frozen=True)
class JobChoice:
    """A job as an operator knows it, and when it was last on the station."""

    code: str
    part: str
    thread: str
    material: str
    depth_mm: float | None
    is_blind: bool | None
    due_on: date | None
    last_at: datetime | None = None
    units: Units | None = None
    """The units of its drawing; None: the shop's."""


@dataclass(frozen=True)
class TapChoice:
    """A tap that could be fitted. `holes` None: unknown. `place` None: in the crib, in `bin`."""

    code: str
    tap_type: str
    holes: int | None
    place: str | None
    bin: str | None
    outlook: Outlook

    @property
    def risk(self) -> Estimate | None:
        """Probability that it breaks in the next holes."""
        return self.outlook.risk


@dataclass(frozen=True)
class NewTapChoice:
    """A tap type that can be taken new from the box in `bin`."""

    code: str
    bin: str | None
    outlook: Outlook


@dataclass(frozen=True)
class TapChoices:
    """The taps that cut a job's thread, lowest risk of breaking first, and new ones of each type."""

    used: tuple[TapChoice, ...]
    new: tuple[NewTapChoice, ...]


def stations(work: Work) -> tuple[StationChoice, ...]:
    """Every station, in the order in which the shop listed them."""
    with work.read() as session:
        last = _last_used(session, Station, Run.station_id)
        return tuple(
            station_choice(row, last.get(row.id)) for row in session.scalars(select(Station).order_by(Station.id))
        )


def people(work: Work, station: str) -> tuple[PersonChoice, ...]:
    """Everybody: first whoever worked at this station last, then the operators.

    Raises
    ------
    NotFound    no such station
    """
    with work.read() as session:
        last = _last_used(session, Person, Run.person_id, station_row(session, station))
        rows = session.scalars(select(Person)).all()
        rows = sorted(rows, key=lambda row: (not _is_operator(row), row.name))
        rows.sort(key=lambda row: last.get(row.id, _LONG_AGO), reverse=True)
        return tuple(PersonChoice(row.code, row.name, last.get(row.id)) for row in rows)


def jobs(work: Work, station: str) -> tuple[JobChoice, ...]:
    """Open jobs whose thread is known: those last on this station first, then by the day they are due.

    Raises
    ------
    NotFound    no such station
    """
    with work.read() as session:
        last = _last_used(session, Job, Run.job_id, station_row(session, station))
        rows = session.scalars(select(Job).where(Job.is_open, Job.thread.is_not(None))).unique().all()
        rows = sorted(rows, key=lambda row: (row.due_on or date.max, row.code))
        rows.sort(key=lambda row: last.get(row.id, _LONG_AGO), reverse=True)
        return tuple(job_choice(row, last.get(row.id)) for row in rows)


def has_log(work: Work) -> bool:
    """Whether any run is on record, imported or logged here."""
    with work.read() as session:
        return session.scalar(select(Run.id).limit(1)) is not None


def taps(
    work: Work, station: str, job: str, rpm: int | None, lubricant: Lubricant | None, next_holes: int
) -> TapChoices:
    """Living taps at this station or in the crib that cut the job's thread, and new ones.

    Raises
    ------
    NotFound    no such station or job
    """
    with work.read() as session:
        place, wanted = station_row(session, station), job_row(session, job)
        kinds = [kind for kind in session.scalars(select(TapType)) if same_thread(kind.thread, wanted.thread)]
        book = OutlookBook(work, session, kinds, wanted, rpm, lubricant, next_holes)
        living = living_taps(session, kinds, place)
        book.read([tap.id for tap, _ in living])
        used = [_tap_choice(tap, life, place, book) for tap, life in living]
        used.sort(key=_by_risk)
        new = [NewTapChoice(kind.code, kind.bin, book.outlook(kind, 0)) for kind in kinds]
        new.sort(key=_by_risk_of_new)
    return TapChoices(tuple(used), tuple(new))


def station_row(session: Session, code: str) -> Station:
    """The station; raises NotFound."""
    row: Station = _row(session, Station, code)
    return row


def job_row(session: Session, code: str) -> Job:
    """The job; raises NotFound."""
    row: Job = _row(session, Job, code)
    return row


def station_choice(row: Station, last_at: datetime | None = None) -> StationChoice:
    """The station as screens show it."""
    return StationChoice(row.code, row.name, row.kind.label if row.kind else None, row.rpm_min, row.rpm_max, last_at)


def job_choice(row: Job, last_at: datetime | None = None) -> JobChoice:
    """The job as screens show it."""
    thread, material = row.thread or "", row.material.name
    return JobChoice(row.code, row.part, thread, material, row.depth_mm, row.is_blind, row.due_on, last_at, row.units)


def known_holes(life: TapLife) -> int | None:
    """Holes on the tap, or None if it came used and nobody knows how many."""
    return None if life.first_entry is None else life.holes


def _row(session: Session, table: type[Any], code: str) -> Any:
    row = find_in(session, table, code)
    if row is None:
        raise NotFound(f"no {table.__name__} {code}")
    return row


def _is_operator(row: Person) -> bool:
    return not row.roles or any(role.role is Role.OPERATOR for role in row.roles)


def _last_used(
    session: Session, things: type[Any], column: InstrumentedAttribute[Any], station: Station | None = None
) -> dict[int, datetime]:
    """By key: the end of the last run of each of the things, found by index."""
    run = select(Run.ended_at).where(column == things.id, counts(Run))
    if station is not None:
        run = run.where(Run.station_id == station.id)
    last = run.order_by(Run.ended_at.desc()).limit(1).scalar_subquery().label("last_at")
    return {row.id: row.last_at for row in session.execute(select(things.id, last)) if row.last_at is not None}


def living_taps(session: Session, kinds: Sequence[TapType], place: Station) -> list[tuple[Tap, TapLife]]:
    """Taps of these types that could go in: at this station or in the crib, not worn out, by code."""
    query = (
        select(Tap, TapLife)
        .join(TapLife, TapLife.tap_id == Tap.id)
        .where(
            TapLife.is_present,
            TapLife.state.in_(_ALIVE),
            Tap.tap_type_id.in_([kind.id for kind in kinds]),
            or_(TapLife.station_id.is_(None), TapLife.station_id == place.id),
            ~WITHDRAWN,
        )
        .order_by(Tap.code)
    )
    return [(tap, life) for tap, life in session.execute(query).unique()]


def _tap_choice(tap: Tap, life: TapLife, place: Station, book: OutlookBook) -> TapChoice:
    holes = known_holes(life)
    name = place.name if life.station_id == place.id else None
    return TapChoice(
        tap.code, tap.tap_type.code, holes, name, tap.tap_type.bin, book.outlook(tap.tap_type, holes, life)
    )


def _by_risk(choice: TapChoice) -> tuple[bool, float, str]:
    return (choice.risk is None, _figure(choice.risk), choice.code)


def _by_risk_of_new(choice: NewTapChoice) -> tuple[bool, float, str]:
    return (choice.outlook.risk is None, _figure(choice.outlook.risk), choice.code)


def _figure(risk: Estimate | None) -> float:
    if risk is None:
        return 1.0
    return risk.upper if risk.value is None else risk.value
