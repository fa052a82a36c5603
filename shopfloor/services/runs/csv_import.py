"""Import of runs from CSV or a workbook: every row is checked first, then all are stored or none.

Ids of imported rows are made from their content, so the same file imported twice is stored once.
"""

from __future__ import annotations

import json
import uuid
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.floor.tap_lives import LifeConflict, LoggedRun
from shopfloor.core.input.codes import code_key, written_code
from shopfloor.core.input.csv_table import CsvRow, read_table
from shopfloor.core.input.run_entry import FROM_A_FILE, EntryLimits, RunEntry, read_run
from shopfloor.core.input.tap_entry import read_tap_of_row
from shopfloor.core.phrases import phrase
from shopfloor.core.threads import find_thread
from shopfloor.core.vocabulary import Cause, TapEnd
from shopfloor.services.ledger.implied_issues import book_taken
from shopfloor.services.record.codes import must_be_new
from shopfloor.services.record.life_summaries import Progress, refresh
from shopfloor.services.record.work import Work, tried_again
from shopfloor.services.runs.csv_columns import COLUMNS, REQUIRED
from shopfloor.services.runs.repeated_rows import doubled
from shopfloor.services.runs.runs import incident_id, resolve, same_run
from shopfloor.services.spreadsheets import read_cells
from shopfloor.store import Incident, Job, Material, Person, Run, Station, StockMovement, Tap, TapType

_IDS = uuid.UUID("6f1f2f4c-5a0e-5d0b-9a5e-2f6f1c9e7b11")
_REUSED = "give another or a reground tap a code of its own, as A1-R1"
_CHANGED = phrase("restore the row and correct the run among its station's entries")
_IDS_AT_ONCE = 500


@dataclass
class Imported:
    """The outcome of an import: rows stored, rows already there, and what it had to create."""

    stored: int = 0
    seen_before: int = 0
    created: dict[str, list[str]] = field(default_factory=dict)


@tried_again
def import_runs(work: Work, path: Path, progress: Progress = lambda done, total: None) -> Imported:
    """Store every run of a CSV file or a workbook, or none; unknown taps, jobs, people and so on are created.

    Raises
    ------
    InputError    all invalid rows, with row and column
    """
    rows = read_table(read_cells(path), COLUMNS, REQUIRED)
    entries = _read(work, rows)
    with work.write() as session:
        return _Import(session, work, rows, entries, progress).run()


def _read(work: Work, rows: Sequence[CsvRow]) -> list[RunEntry]:
    limits = EntryLimits(work.clock(), work.settings.zone, work.settings.largest_batch, FROM_A_FILE)
    problems: list[Problem] = []
    entries: list[RunEntry] = []
    repeats: Counter[str] = Counter()
    for row in rows:
        cells = dict(row.cells)
        content = json.dumps(sorted((k, v.strip()) for k, v in cells.items() if k))
        # A row without an id gets one from its content, so that importing the same file twice stores it once; equal
        # rows within one file are different runs.
        if not cells.get("id", "").strip():
            cells["id"] = str(uuid.uuid5(_IDS, f"{repeats[content]} {content}"))
        repeats[content] += 1
        try:
            entries.append(read_run(cells, limits, row=row.number))
        except InputError as error:
            problems += error.problems
    doubled = [id_ for id_, times in Counter(entry.id for entry in entries).items() if times > 1]
    problems += [
        Problem("id", phrase("{id} stands in several rows", id=id_), "give each run its own id") for id_ in doubled
    ]
    if problems:
        raise InputError(problems)
    return entries


class _Import:
    """One import in progress, inside one transaction."""

    def __init__(
        self, session: Session, work: Work, rows: Sequence[CsvRow], entries: Sequence[RunEntry], progress: Progress
    ) -> None:
        self._session = session
        self._work = work
        self._rows = rows
        self._entries = entries
        self._progress = progress
        self._result = Imported()
        self._problems: list[Problem] = []
        tables: tuple[type[Any], ...] = (TapType, Tap, Material, Station, Person, Job)
        self._known: dict[type[Any], dict[str, Any]] = {}
        self._alike: dict[type[Any], dict[str, Any]] = {}
        for table in tables:
            self._known[table] = {thing.code: thing for thing in session.scalars(select(table)).unique()}
            self._alike[table] = {thing.code_key: thing for thing in self._known[table].values() if thing.code_key}
        self._stored = _stored_runs(session, [entry.id for entry in entries])
        self._row_of: dict[int, int] = {}
        self._runs: list[dict[str, Any]] = []
        self._incidents: list[dict[str, Any]] = []

    def run(self) -> Imported:
        start = int(self._work.clock().timestamp() * 1_000_000)
        for i, (row, entry) in enumerate(zip(self._rows, self._entries, strict=True)):
            self._row_of[start + i] = row.number
            self._take(row, entry, start + i)
            self._progress(i + 1, len(self._rows))
        in_file = {run.original_id for run in self._stored.values()}
        self._problems += doubled(self._session, self._work, self._runs, in_file, self._row_of)
        if self._problems:
            raise InputError(sorted(self._problems, key=lambda problem: problem.row or 0))
        for table, new in ((Run, self._runs), (Incident, self._incidents)):
            if new:
                self._session.execute(insert(table), new)
        self._result.stored = len(self._runs)
        taps = {run["tap_id"] for run in self._runs}
        book_taken(self._session, self._work, taps & _booked(self._session), by=None)
        self._refresh(taps)
        return self._result

    def _take(self, row: CsvRow, entry: RunEntry, position: int) -> None:
        try:
            self._create_unknown(row, entry)
            values = resolve(self._session, entry, find=self._find)
        except InputError as error:
            self._problems += [replace(problem, row=row.number) for problem in error.problems]
            return
        stored = self._stored.get(entry.id)
        if stored is not None:
            self._compare(row, stored, entry, values)
            return
        now = self._work.clock()
        self._runs.append({"id": entry.id, "original_id": entry.id, "position": position, "recorded_at": now, **values})
        if entry.tap_end is TapEnd.BROKEN:
            self._incidents.append(_incident(entry, values, now))

    def _compare(self, row: CsvRow, stored: Run, entry: RunEntry, values: Mapping[str, Any]) -> None:
        try:
            same_run(stored, entry, values)
            self._result.seen_before += 1
        except InputError as error:
            self._problems += [replace(problem, row=row.number, remedy=_CHANGED) for problem in error.problems]

    def _find(self, table: type[Any], code: str) -> Any:
        """Like `find_in`, without a query for each cell."""
        return self._known[table].get(code) or self._alike[table].get(code_key(code))

    def _create_unknown(self, row: CsvRow, entry: RunEntry) -> None:
        said = read_tap_of_row(row.cells, row.number)
        tap, type_code = self._find(Tap, entry.tap), said.entry.tap_type
        of_row = said.accepted(self._problems_of_type(tap, type_code, row.number) if type_code else ())
        kind = self._get(TapType, type_code, thread=_thread_of(of_row.thread, type_code))
        if tap is None:
            self._get(Tap, entry.tap, tap_type=kind, holes_before=of_row.holes_before, regrinds=0)
        group = of_row.iso_group
        material = entry.material and self._get(Material, entry.material, name=entry.material, iso_group=group)
        if entry.job is not None and material:
            self._get(Job, entry.job, part=entry.job, material=material, thread=kind.thread)
        if entry.station is not None:
            self._get(Station, entry.station, name=entry.station)
        if entry.person is not None:
            self._get(Person, entry.person, name=entry.person)

    def _problems_of_type(self, tap: Tap | None, type_code: str, row: int) -> list[Problem]:
        if tap is None or tap.tap_type is self._find(TapType, type_code):
            return []
        what = phrase("tap {code} is logged as {code2}", code=tap.code, code2=tap.tap_type.code)
        return [Problem("tap type", what, "give each tap one type", row)]

    def _get(self, table: type[Any], code: str, **values: Any) -> Any:
        row = self._find(table, code)
        if row is None:
            named = table.__tablename__.replace("_", " ")
            must_be_new(self._session, table, code, named)
            row = table(code=written_code(code), **values)
            self._session.add(row)
            self._session.flush()
            self._known[table][row.code] = self._alike[table][row.code_key] = row
            self._result.created.setdefault(named, []).append(row.code)
        return row

    def _refresh(self, taps: set[int]) -> None:
        problems = []
        for tap_id in sorted(taps):
            try:
                refresh(self._session, {tap_id})
            except LifeConflict as conflict:
                run = conflict.event
                row = self._row_of.get(run.position) if isinstance(run, LoggedRun) else None
                problems += [replace(problem, row=row, remedy=_REUSED) for problem in conflict.problems]
        if problems:
            raise InputError(sorted(problems, key=lambda problem: problem.row or 0))


def _thread_of(thread: str | None, type_code: str) -> str | None:
    if thread is not None:
        return thread
    found = find_thread(type_code)
    return found.designation if found else None


def _incident(entry: RunEntry, values: Mapping[str, Any], now: datetime) -> dict[str, Any]:
    return {
        "id": incident_id(entry.id),
        "run_id": entry.id,
        "reported_at": entry.ended_at,
        "person_id": values["person_id"],
        "cause": entry.cause or Cause.NOT_KNOWN,
        "account": entry.note,
        "recorded_at": now,
    }


def _stored_runs(session: Session, ids: Sequence[uuid.UUID]) -> dict[uuid.UUID, Run]:
    """Those of the runs that are already stored."""
    found: dict[uuid.UUID, Run] = {}
    for start in range(0, len(ids), _IDS_AT_ONCE):
        some = ids[start : start + _IDS_AT_ONCE]
        found |= {run.id: run for run in session.scalars(select(Run).where(Run.id.in_(some)))}
    return found


def _booked(session: Session) -> set[int]:
    """Taps that occur in the crib's ledger."""
    return set(session.scalars(select(StockMovement.tap_id).where(StockMovement.tap_id.is_not(None)).distinct()))
