"""The summary tables always tell what the log tells, whatever was entered, corrected or cancelled."""

from __future__ import annotations

import shutil
import tempfile
import uuid
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from shopfloor.core.entries import RunEntry
from shopfloor.core.errors import InputError
from shopfloor.core.vocabulary import GaugeResult, MovementKind, TapEnd
from shopfloor.services.batches import cancel_run, correct_run, log_run, undo_run
from shopfloor.services.movements import move_tap
from shopfloor.services.summaries import rebuild
from shopfloor.services.taps import fit_tap, record_gauge_check
from shopfloor.store import LifeStretch, TapLife
from tests.factories import Shop, open_shop

runs = st.fixed_dictionaries(
    {
        "tap": st.sampled_from(["T1", "T2"]),
        "holes": st.integers(1, 60),
        "cutting_slips": st.none() | st.integers(0, 5),
        "tap_end": st.sampled_from([*[TapEnd.STILL_GOOD] * 4, *TapEnd]),
        "job": st.sampled_from(["J1", "J2"]),
        "rpm": st.sampled_from([100, 250, 400]),
    }
)
steps = st.lists(
    st.tuples(st.just("log"), runs)
    | st.tuples(st.just("again"), st.integers(0, 9))
    | st.tuples(st.just("correct"), st.tuples(st.integers(0, 9), runs))
    | st.tuples(st.sampled_from(["cancel", "undo"]), st.integers(0, 9))
    | st.tuples(st.just("gauge"), st.tuples(st.sampled_from(["T1", "T2"]), st.sampled_from(list(GaugeResult))))
    | st.tuples(st.sampled_from(["fit", "take off"]), st.sampled_from(["T1", "T2"])),
    max_size=14,
)


def tables(shop: Shop) -> list[list[Any]]:
    """Everything that the summary tables hold."""
    with shop.work.read() as session:
        return [
            [
                tuple(row)
                for row in session.execute(select(*table.__table__.columns).order_by(*table.__table__.primary_key))
            ]
            for table in (TapLife, LifeStretch)
        ]


def take(shop: Shop, entries: list[RunEntry], deed: str, what: Any) -> None:
    """One step of the story; a refusal is part of it."""
    shop.clock.move(minutes=1)
    if deed == "log":
        entry = shop.entry(**what)
        log_run(shop.work, entry)
        entries.append(entry)
    elif deed == "gauge":
        record_gauge_check(shop.work, uuid.uuid4(), what[0], what[1], "bo")
    elif deed == "fit":
        fit_tap(shop.work, what, "arm", "bo")
    elif deed == "take off":
        move_tap(shop.work, uuid.uuid4(), what, MovementKind.RETURNED, "bo")
    elif entries:
        number, changes = what if deed == "correct" else (what, {})
        old = entries[number % len(entries)]
        if deed == "correct":
            new = replace(old, id=uuid.uuid4(), **changes)
            correct_run(shop.work, old.id, new, "mistyped", "bo")
            entries.append(new)
        elif deed == "again":
            log_run(shop.work, old)
        elif deed == "cancel":
            cancel_run(shop.work, old.id, "entered twice", "bo")
        else:
            undo_run(shop.work, old.id)


def tell(shop: Shop, story: Sequence[tuple[str, Any]]) -> int:
    """Live through the story; returns how many steps were refused."""
    entries: list[RunEntry] = []
    refused = 0
    for deed, what in story:
        try:
            take(shop, entries, deed, what)
        except InputError:
            refused += 1
    return refused


@settings(max_examples=60)
@given(steps)
def test_summaries_agree_with_the_log_after_any_sequence(migrated_sqlite: Path, story: list[tuple[str, Any]]) -> None:
    """What each transaction kept is what working everything out anew gives."""
    with tempfile.TemporaryDirectory() as folder:
        database = Path(shutil.copy(migrated_sqlite, Path(folder, "shop.sqlite")))
        shop = open_shop(f"sqlite:///{database.as_posix()}", Path(folder))
        tell(shop, story)
        kept = tables(shop)
        rebuild(shop.work)
        assert tables(shop) == kept
        shop.work.engine.dispose()


def test_the_story_also_holds_on_both_databases(shop: Shop) -> None:
    """A fixed story with a break, a correction, an undo and a refusal."""
    story: list[tuple[str, Any]] = [
        ("fit", "T1"),
        ("log", {"tap": "T1", "holes": 40}),
        ("log", {"tap": "T1", "holes": 10, "job": "J2"}),
        ("correct", (0, {"holes": 50})),
        ("log", {"tap": "T1", "holes": 20, "tap_end": TapEnd.BROKEN}),
        ("log", {"tap": "T1", "holes": 5}),
        ("undo", 3),
        ("gauge", ("T1", GaugeResult.FAILED)),
    ]
    assert 1 == tell(shop, story)
    kept = tables(shop)
    rebuild(shop.work)
    assert tables(shop) == kept
