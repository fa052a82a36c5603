"""The summary tables always tell what the log tells, whatever was entered, corrected or cancelled."""

from __future__ import annotations

import tempfile
import uuid
from collections import Counter, defaultdict
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from shopfloor.core.errors import InputError, NotFound
from shopfloor.core.input.crib_entries import CheckChange, MoveChange
from shopfloor.core.input.incident_report import IncidentCorrection
from shopfloor.core.input.run_entry import RunEntry
from shopfloor.core.vocabulary import (
    COMES_IN,
    Cause,
    DepthControl,
    GaugeResult,
    Lubricant,
    MovementKind,
    PartFate,
    TapEnd,
)
from shopfloor.services.crib.tap_history import tap_history
from shopfloor.services.ledger.gauge_check_corrections import cancel_check, correct_check
from shopfloor.services.ledger.gauge_checks import record_gauge_check
from shopfloor.services.ledger.movement_corrections import cancel_movement, correct_movement
from shopfloor.services.ledger.movements import move_tap
from shopfloor.services.ledger.taps import fit_tap
from shopfloor.services.quality.incidents import cancel_incident, correct_incident, incident_of
from shopfloor.services.record.life_summaries import rebuild
from shopfloor.services.runs.runs import cancel_run, correct_run, log_run, undo_run
from shopfloor.store import DailyOutput, GaugeCheck, Incident, Run, StockMovement, Tap, TotalOutput
from shopfloor.store.queries.log import counts
from tests.factories import Shop, reopen_shop
from tests.kept import copied
from tests.services.conftest import ON_BOTH
from tests.services.looking import tables

MOVES = [MovementKind.SENT_TO_REGRIND, MovementKind.REGROUND, MovementKind.SCRAPPED, MovementKind.RETURNED]
KEYS = len(list(DailyOutput.__table__.primary_key))
minutes = st.integers(-5, 0)
runs = st.fixed_dictionaries(
    {
        "tap": st.sampled_from(["T1", "T2"]),
        "holes": st.integers(1, 60),
        "cutting_slips": st.none() | st.integers(0, 5),
        "tap_end": st.sampled_from([*[TapEnd.STILL_GOOD] * 4, *TapEnd]),
        "job": st.sampled_from(["J1", "J2"]),
        "rpm": st.sampled_from([100, 250, 400]),
        "lubricant": st.sampled_from([None, Lubricant.MIST]),
        "depth_control": st.sampled_from([None, *DepthControl]),
    }
)
steps = st.lists(
    st.tuples(st.just("log"), runs)
    | st.tuples(st.just("again"), st.integers(0, 9))
    | st.tuples(st.just("correct"), st.tuples(st.integers(0, 9), runs))
    | st.tuples(st.sampled_from(["cancel", "undo"]), st.integers(0, 9))
    | st.tuples(st.just("gauge"), st.tuples(st.sampled_from(["T1", "T2"]), st.sampled_from(list(GaugeResult))))
    | st.tuples(st.sampled_from(["fit", "take off"]), st.sampled_from(["T1", "T2"]))
    | st.tuples(st.just("move"), st.tuples(st.sampled_from(["T1", "T2"]), st.sampled_from(MOVES)))
    | st.tuples(st.sampled_from(["cancel check", "cancel movement"]), st.integers(0, 9))
    | st.tuples(st.just("correct check"), st.tuples(st.integers(0, 9), st.sampled_from(list(GaugeResult)), minutes))
    | st.tuples(st.just("correct movement"), st.tuples(st.integers(0, 9), minutes))
    | st.tuples(st.just("cancel incident"), st.integers(0, 9))
    | st.tuples(st.just("correct incident"), st.tuples(st.integers(0, 9), st.sampled_from(PartFate))),
    max_size=14,
)


def take(shop: Shop, entries: list[RunEntry], action: str, what: Any) -> None:
    """One step of the incident; a refusal is part of it."""
    shop.clock.move(minutes=1)
    if action == "log":
        entry = shop.entry(**what)
        log_run(shop.work, entry)
        entries.append(entry)
    elif action == "gauge":
        record_gauge_check(shop.work, uuid.uuid4(), what[0], what[1], "bo")
    elif action == "move":
        move_tap(shop.work, uuid.uuid4(), what[0], what[1], "bo")
    elif action.endswith(("check", "movement")):
        put_right(shop, action, what)
    elif action.endswith("incident") and entries:
        retell(shop, entries, action, what)
    elif action == "fit":
        fit_tap(shop.work, what, "arm", "bo")
    elif action == "take off":
        move_tap(shop.work, uuid.uuid4(), what, MovementKind.RETURNED, "bo")
    elif entries:
        number, changes = what if action == "correct" else (what, {})
        old = entries[number % len(entries)]
        if action == "correct":
            new = replace(old, id=uuid.uuid4(), **changes)
            correct_run(shop.work, old.id, new, "mistyped", "bo")
            entries.append(new)
        elif action == "again":
            log_run(shop.work, old)
        elif action == "cancel":
            cancel_run(shop.work, old.id, "entered twice", "bo")
        else:
            undo_run(shop.work, old.id)


def put_right(shop: Shop, action: str, what: Any) -> None:
    """Correct or cancel the check or movement of this number, if there is any."""
    number, *said = what if isinstance(what, tuple) else (what,)
    table = GaugeCheck if action.endswith("check") else StockMovement
    with shop.work.read() as session:
        rows = session.scalars(select(table).order_by(table.recorded_at)).all()
    if not rows:
        return
    row: Any = rows[number % len(rows)]
    if action == "cancel check":
        cancel_check(shop.work, row.id, "another tap", "bo")
    elif action == "cancel movement":
        cancel_movement(shop.work, row.id, "another tap", "bo")
    elif action == "correct check":
        result, later = said
        at = row.checked_at + timedelta(minutes=later)
        correct_check(shop.work, row.id, CheckChange(uuid.uuid4(), result, at), "misread", "bo")
    else:
        at = row.moved_at + timedelta(minutes=said[0])
        correct_movement(shop.work, row.id, MoveChange(uuid.uuid4(), at), "booked late", "bo")


def retell(shop: Shop, entries: list[RunEntry], action: str, what: Any) -> None:
    """Correct or cancel the incident of the run of this number, if the tap broke in it."""
    number, *said = what if isinstance(what, tuple) else (what,)
    with suppress(NotFound):
        incident = incident_of(shop.work, entries[number % len(entries)].id)
        seen = incident.present.id if incident.present else None
        if action == "cancel incident":
            cancel_incident(shop.work, incident.run, seen, "another tap", "bo")
        else:
            new = IncidentCorrection(uuid.uuid4(), seen, Cause.BOTTOMED, None, said[0])
            correct_incident(shop.work, incident.run, new, "seen", "bo")


def tell(shop: Shop, incident: Sequence[tuple[str, Any]]) -> int:
    """Live through the incident; returns how many steps were refused."""
    entries: list[RunEntry] = []
    refused = 0
    for action, what in incident:
        try:
            take(shop, entries, action, what)
        except InputError:
            refused += 1
    return refused


@settings(max_examples=100)
@given(steps)
def test_summaries_agree_with_the_log_after_any_sequence(
    furnished_sqlite: Path, incident: list[tuple[str, Any]]
) -> None:
    """What each transaction kept is what working everything out anew gives; each break has one incident at most."""
    with tempfile.TemporaryDirectory() as folder:
        shop = reopen_shop(copied(furnished_sqlite, Path(folder, "shop.sqlite")), Path(folder))
        tell(shop, incident)
        kept = tables(shop)
        rebuild(shop.work)
        assert tables(shop) == kept
        assert output_in(shop) == output_of_log(shop)
        for tap in ("T1", "T2"):
            assert ledger_agrees(shop, tap)
        with shop.work.read() as session:
            told = session.scalars(select(Incident.run_id).where(counts(Incident))).all()
        assert len(set(told)) == len(told)
        shop.work.engine.dispose()


def output_in(shop: Shop) -> dict[tuple[Any, ...], tuple[int, ...]]:
    """The daily output as the database keeps it: its counts by its key."""
    with shop.work.read() as session:
        rows = session.execute(select(*DailyOutput.__table__.columns).where(DailyOutput.runs != 0))
        found = {tuple(row[:KEYS]): tuple(row[KEYS:]) for row in rows}
        total = Counter[int]()
        for made in session.scalars(select(TotalOutput)):
            total[made.job_id] += made.holes
    by_job = Counter[int]()
    for key, counted in found.items():
        by_job[key[2]] += counted[1]
    assert +total == +by_job
    return found


def output_of_log(shop: Shop) -> dict[tuple[Any, ...], tuple[int, ...]]:
    """The same, run by run."""
    found: defaultdict[tuple[Any, ...], list[int]] = defaultdict(lambda: [0] * 7)
    with shop.work.read() as session:
        for run, kind in session.execute(
            select(Run, Tap.tap_type_id).join(Tap, Tap.id == Run.tap_id).where(counts(Run))
        ):
            key = (run.ended_at.date(), run.station_id or 0, run.job_id or 0, kind, run.material_id, run.rpm)
            has_slips = run.cutting_slips is not None
            is_judged = has_slips and run.depth_control is not DepthControl.CLUTCH
            slips, made = run.cutting_slips or 0, run.holes_made
            adds = (
                1, made, run.tap_end is TapEnd.BROKEN, slips, made * has_slips, slips * is_judged, made * is_judged,
            )  # fmt: skip
            found[key] = [before + more for before, more in zip(found[key], adds, strict=True)]
    return {key: tuple(counted) for key, counted in found.items()}


def ledger_agrees(shop: Shop, tap: str) -> bool:
    """Each movement of the tap that counts changes the stock by whether it brings the tap in or takes it out."""
    told = [move for move in reversed(tap_history(shop.work, tap).movements) if move.change is None]
    pairs = pairwise((move.quantity, move.kind in COMES_IN) for move in told)
    return all(quantity == comes_in - was_in for (_, was_in), (quantity, comes_in) in pairs)


@ON_BOTH
def test_the_story_also_holds_on_both_databases(shop: Shop) -> None:
    """A fixed incident with a break, corrections, cancellations, an undo and two refusals."""
    incident: list[tuple[str, Any]] = [
        ("fit", "T1"),
        ("log", {"tap": "T1", "holes": 40}),
        ("log", {"tap": "T1", "holes": 10, "job": "J2"}),
        ("correct", (0, {"holes": 50})),
        ("log", {"tap": "T1", "holes": 20, "tap_end": TapEnd.BROKEN}),
        ("log", {"tap": "T1", "holes": 5}),
        ("undo", 3),
        ("gauge", ("T1", GaugeResult.FAILED)),
        ("correct check", (0, GaugeResult.PASSED, -1)),
        ("cancel check", 1),
        ("cancel movement", 0),
        ("correct movement", (0, -2)),
        ("correct incident", (2, PartFate.SCRAPPED)),
        ("cancel incident", 2),
    ]
    assert 2 == tell(shop, incident)
    kept = tables(shop)
    assert output_in(shop) == output_of_log(shop)
    rebuild(shop.work)
    assert tables(shop) == kept
