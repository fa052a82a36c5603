"""Which typed numbers are asked back, and what is usual."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.input.plausibility import (
    LAST,
    MEANT,
    Doubtful,
    Odd,
    Past,
    Typed,
    Usual,
    all_answers,
    ask_back,
    doubt_of_taps,
    doubts_of,
    last_batch,
    ordinary,
    usual_batch,
)
from shopfloor.core.input.run_entry import FROM_A_FILE, EntryLimits, read_run
from shopfloor.core.vocabulary import Confirmed
from tests.numbers_doubted import DOUBTED

numbers = st.integers(1, 5000)
batches = st.lists(st.builds(Past, numbers, st.booleans()), max_size=8)
typed_numbers = st.builds(Typed, numbers, numbers, st.none() | st.integers(0, 5000), numbers, st.none() | numbers)
usuals = st.builds(Usual, st.none() | numbers, st.none() | st.integers(-9, 5000), st.none() | numbers)


def typed(raw: dict[str, str], offered: int | None) -> Typed:
    """The numbers as the station page hands them over."""
    slips = raw.get("cutting_slips")
    return Typed(
        holes=int(raw["holes"]),
        made=int(raw.get("broke_at_hole", raw["holes"])),
        cutting_slips=int(slips) if slips and "slip_holes" not in raw else None,
        rpm=int(raw.get("rpm", "400")),
        offered=offered,
    )


@pytest.mark.parametrize(("raw", "usual", "expected"), DOUBTED)
def test_odd_numbers_are_asked_back(
    raw: dict[str, str], usual: dict[str, Any], expected: list[tuple[str, str, str]]
) -> None:
    """Each with what would be usual."""
    known = {name: value for name, value in usual.items() if name != "offered"}
    found = doubts_of(typed(raw, usual.get("offered")), Usual(**known))
    assert expected == [(doubt.mark, doubt.question, doubt.answer) for doubt in found]


@given(typed_numbers, usuals)
def test_whatever_is_odd_is_saved_once_it_is_confirmed(entered: Typed, usual: Usual) -> None:
    """One touch confirms everything that is asked; nothing else is taken for confirmed."""
    doubts = doubts_of(entered, usual)
    sure = " ".join(doubt.mark for doubt in doubts)
    assert {doubt.field for doubt in doubts} == {word.value for word in ask_back(doubts, sure)}
    if doubts:
        with pytest.raises(Doubtful):
            ask_back(doubts, sure.replace("=", "=1"))


@given(typed_numbers)
def test_the_first_batch_of_a_job_is_held_to_nothing_but_itself(entered: Typed) -> None:
    """Nobody knows what is usual: only slips can be odd."""
    assert {"cutting_slips"} >= {doubt.field for doubt in doubts_of(entered, Usual())}


@given(batches)
def test_the_batch_that_is_offered_is_never_asked_back(past: list[Past]) -> None:
    """What a page offers itself, it cannot doubt; and it is one that nobody had to confirm, unless most were."""
    offered, usual = last_batch(past), usual_batch(past)
    assert (offered is None) is (usual is None)
    if offered is not None:
        assert () == doubts_of(Typed(offered, offered, None, 1), Usual(usual))
        is_meant = sum(one.is_confirmed for one in past[:LAST]) >= MEANT
        assert any(one.number == offered and (is_meant or not one.is_confirmed) for one in past[:LAST])


def test_a_confirmed_batch_is_neither_usual_nor_offered() -> None:
    """1812 among batches of 18, confirmed or brought in by a file."""
    assert (18, 18) == (
        usual_batch([Past(1812, True), Past(18, False)]),
        last_batch([Past(1812, True), Past(18, False)]),
    )
    assert 20 == last_batch([Past(1812, False), Past(20, False), Past(18, False)])
    assert (None, None) == (usual_batch([Past(1812, True)]), last_batch([Past(1812, True)]))


def test_what_is_confirmed_again_and_again_is_usual() -> None:
    """A job that goes on with larger batches is not asked for ever: the third of the last five is meant."""
    two, three = ([Past(100, True)] * times + [Past(2, False)] for times in (2, 3))
    assert ((2,), 2) == (ordinary(two), usual_batch(two))
    assert (100, 100) == (last_batch(three), usual_batch(three))


def test_a_number_of_taps_is_held_to_the_last_delivery_or_the_ledger() -> None:
    """Over three times as many; an empty ledger says nothing."""
    assert () == doubt_of_taps(30, 10, Odd.MANY_TAPS)
    assert () == doubt_of_taps(900, None, Odd.MANY_TAPS) == doubt_of_taps(900, 0, Odd.BEYOND_LEDGER)
    assert () == doubt_of_taps(12, 1, Odd.BEYOND_LEDGER)
    asked = [*doubt_of_taps(31, 10, Odd.MANY_TAPS), *doubt_of_taps(31, 10, Odd.BEYOND_LEDGER)]
    assert ["31? Last delivery: 10", "31? In the crib by the ledger: 10"] == [doubt.question for doubt in asked]


def test_one_touch_says_all_that_it_confirms() -> None:
    """Each number with its unit."""
    doubts = doubts_of(Typed(1812, 1812, 1000, 4000), Usual(18, None, 400))
    assert "Yes, 1,812 holes, 1,000 cutting slips, 4,000 rpm" == all_answers(doubts)


def test_a_run_tells_what_was_confirmed() -> None:
    """As text or as a list, in one order; another word is named."""
    now = datetime(2026, 6, 1, tzinfo=UTC)
    raw = {"id": str(uuid.uuid4()), "when": "2026-05-01 08:00", "tap": "T1", "material": "steel", "rpm": "400",
           "holes": "1812", "tap_end": "still good"}  # fmt: skip
    limits = EntryLimits(now, UTC, 5000, FROM_A_FILE)
    both = (Confirmed.HOLES, Confirmed.SPEED)
    for told in ("rpm holes", ["holes", "rpm"]):
        assert both == read_run({**raw, "confirmed": told}, limits).confirmed
    for wrong in ("tap", ["holes", 7], 7):
        with pytest.raises(InputError, match=r"confirmed: .*; use one or several of: holes, cutting_slips, rpm"):
            read_run({**raw, "confirmed": wrong}, limits)
