"""One tap from delivery until now: its lives, runs, gauge checks and movements."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import NotFound
from shopfloor.core.floor.tap_lives import Observation
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import MovementKind, TapEnd, TapState
from shopfloor.services.crib.board import TapInUse, taps_in_use
from shopfloor.services.ledger.gauge_checks import CheckOfTap, checks_of
from shopfloor.services.ledger.history import BookedMove, booked_moves
from shopfloor.services.ledger.movements import possible_moves
from shopfloor.services.ledger.taps import is_withdrawn, last_movement, lies_in_crib
from shopfloor.services.record.codes import find_in, holds
from shopfloor.services.record.revisions import Standing
from shopfloor.services.record.work import Work
from shopfloor.store import Job, Material, Person, Run, Station, StockMovement, Tap, TapLife, TapType
from shopfloor.store.queries.fitted import IN_USE, fitted_taps
from shopfloor.store.queries.log import counts

FOUND_AT_MOST = 30
_WITHDRAWN = phrase("not in the crib: its receipt was cancelled")


@dataclass(frozen=True)
class PastLife:
    """One life of the tap; `observation` None: of no use to the statistics."""

    number: int
    entry: int | None
    holes: int
    cutting_slips: int
    runs: int
    state: TapState
    first_at: datetime | None
    last_at: datetime | None
    observation: Observation | None


@dataclass(frozen=True)
class RunOfTap:
    """One run of the tap, with the holes on it afterwards (None if unknown)."""

    ended_at: datetime
    station: str | None
    job: str | None
    material: str
    rpm: int
    holes: int
    cutting_slips: int | None
    tap_end: TapEnd
    broke_at_hole: int | None
    person: str | None
    note: str | None
    holes_after: int | None


@dataclass(frozen=True)
class TapHistory:
    """Everything on record about one tap, present life first. `in_use` None: in no station. `place`: where it is."""

    code: str
    tap_type: str
    supplier: str | None
    lot: str | None
    place: str
    lives: tuple[PastLife, ...]
    runs: tuple[RunOfTap, ...]
    checks: tuple[CheckOfTap, ...]
    movements: tuple[BookedMove, ...]
    in_use: TapInUse | None
    possible_moves: tuple[MovementKind, ...]

    @property
    def present(self) -> PastLife:
        """The current life, or the last one."""
        return self.lives[0]


@dataclass(frozen=True)
class TapSummary:
    """A tap in a list, with a summary of its present life."""

    code: str
    tap_type: str
    station: str | None
    holes: int
    is_counted: bool
    regrinds: int
    state: TapState
    last_at: datetime | None
    is_in_use: bool


def tap_history(work: Work, code: str) -> TapHistory:
    """The history of one tap.

    Raises
    ------
    NotFound    no such tap
    """
    with work.read() as session:
        tap = find_in(session, Tap, code)
        if tap is None:
            raise NotFound(f"no tap {code}")
        return _told(work, session, tap)


def find_taps(work: Work, part: str | None = None) -> list[TapSummary]:
    """Taps whose code contains that part (all if none is given), last used first, at most `FOUND_AT_MOST`."""
    query = (
        select(
            Tap.code, TapType.code, Station.code, TapLife.holes, TapLife.first_entry.is_not(None), TapLife.number,
            TapLife.state, TapLife.last_at, IN_USE,
        )
        .join(Tap, Tap.id == TapLife.tap_id)
        .join(TapType, TapType.id == Tap.tap_type_id)
        .outerjoin(Station, Station.id == TapLife.station_id)
        .where(TapLife.is_present)
        .order_by(TapLife.last_at.desc().nulls_last(), Tap.code)
        .limit(FOUND_AT_MOST)
    )  # fmt: skip
    if part:
        query = query.where(holds(Tap, part))
    with work.read() as session:
        return [TapSummary(*row) for row in session.execute(query)]


def exact_code(work: Work, code: str) -> str | None:
    """The tap's code as it stands in the record, ignoring case; None if there is no such tap."""
    with work.read() as session:
        tap = find_in(session, Tap, code)
        return None if tap is None else tap.code


def _told(work: Work, session: Session, tap: Tap) -> TapHistory:
    rows = list(session.scalars(select(TapLife).where(TapLife.tap_id == tap.id).order_by(TapLife.number.desc())))
    last, is_gone = last_movement(session, tap), is_withdrawn(session, tap)
    kind = None if last is None else last.kind
    fitted = [one for one in fitted_taps(session) if one.tap == tap.id]
    in_use = next(iter(taps_in_use(work, session, fitted)), None) if fitted else None
    movements = booked_moves(session, StockMovement.tap_id == tap.id)
    return TapHistory(
        code=tap.code,
        tap_type=tap.tap_type.code,
        supplier=tap.tap_type.supplier,
        lot=tap.lot,
        place=_WITHDRAWN if is_gone else _place(rows[0], in_use, kind, lies_in_crib(session, tap)),
        lives=tuple(_life(row) for row in rows),
        runs=tuple(_runs(session, tap, rows[-1], movements)),
        checks=tuple(checks_of(session, tap.id)),
        movements=tuple(movements),
        in_use=in_use,
        possible_moves=() if is_gone else possible_moves(rows[0], kind),
    )


def _place(life: TapLife, in_use: TapInUse | None, last: MovementKind | None, in_crib: bool | None) -> str:
    if in_use is not None:
        if in_use.station is None:
            return phrase("in a station that was not logged")
        return phrase("in {station}", station=in_use.station)
    if last is MovementKind.SENT_TO_REGRIND:
        return phrase("away for regrinding")
    if last in (MovementKind.SCRAPPED, MovementKind.LOST):
        return last.label.lower()
    if in_crib is None:
        return phrase("not booked into the crib")
    return phrase("in the crib") if in_crib else phrase("out of use")


def _life(row: TapLife) -> PastLife:
    observation = (
        None if row.entry is None or row.lower is None else Observation(row.entry, row.lower, row.upper, row.mode)
    )
    return PastLife(
        row.number, row.first_entry, row.holes, row.cutting_slips, row.runs, row.state, row.first_at, row.last_at,
        observation,
    )  # fmt: skip


def _runs(session: Session, tap: Tap, first: TapLife, movements: Sequence[BookedMove]) -> list[RunOfTap]:
    """Runs, newest first, with the holes on the tap after each; a regrind restarts the count."""
    query = (
        select(
            Run.ended_at, Station.code, Job.code, Material.name, Run.rpm, Run.holes, Run.cutting_slips, Run.tap_end,
            Run.broke_at_hole, Person.name, Run.note, Run.holes_made,
        )
        .outerjoin(Station, Station.id == Run.station_id)
        .outerjoin(Job, Job.id == Run.job_id)
        .outerjoin(Person, Person.id == Run.person_id)
        .join(Material, Material.id == Run.material_id)
        .where(Run.tap_id == tap.id, counts(Run))
        .order_by(Run.ended_at, Run.position)
    )  # fmt: skip
    counted = [move for move in movements if move.standing is Standing.SAVED]
    regrinds = sorted(move.moved_at for move in counted if move.kind is MovementKind.REGROUND)
    found: list[RunOfTap] = []
    holes: int | None = first.first_entry
    for row in session.execute(query):
        # A regrind at the same instant comes after the run, as in the core.
        while regrinds and regrinds[0] < row.ended_at:
            regrinds.pop(0)
            holes = 0
        holes = None if holes is None else holes + row.holes_made
        run: list[Any] = [*row[:-1], holes]
        found.append(RunOfTap(*run))
    return found[::-1]
