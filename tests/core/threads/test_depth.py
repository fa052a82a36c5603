"""Depth: turns, time, and what a blind hole needs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.threads.depth import (
    CHAMFER_THREADS,
    check_depth,
    drill_point_mm,
    hole_need,
    revolutions,
    tapping_seconds,
)
from shopfloor.core.vocabulary import Chamfer

lengths = st.floats(0.5, 100)
pitches = st.floats(0.2, 6)
chamfers = st.sampled_from(list(Chamfer))


def test_the_forms_of_chamfer() -> None:
    """US Army TM 9-254: taper 7 to 10 threads, plug 3 to 5, bottoming 1 to 2."""
    assert [(7, 10), (3, 5), (1, 2)] == [CHAMFER_THREADS[c] for c in (Chamfer.TAPER, Chamfer.PLUG, Chamfer.BOTTOMING)]


def test_a_worked_hole() -> None:
    """M8, 16 mm of full thread with a plug tap: 16 + 5 x 1.25 + 1.25 to the shoulder, 0.3004 x 6.8 of point."""
    need = hole_need(16, 1.25, Chamfer.PLUG, 6.8)
    assert [23.5, 25.543] == pytest.approx([need.drill_depth_mm, need.tip_depth_mm], abs=1e-3)
    check = check_depth(need, 20)
    assert (True, 3.5, 12.5) == (check.is_too_shallow, check.missing_mm, check.possible_full_thread_mm)


def test_half_an_inch_at_250_rpm() -> None:
    """1/2-13 to 0.7 in: 9.1 turns, 2.184 s in, and half of that out at double speed."""
    depth, pitch = 0.7 * 25.4, 25.4 / 13
    assert 9.1 == pytest.approx(float(revolutions(depth, pitch)))
    assert 1.5 * 2.184 == pytest.approx(float(tapping_seconds(depth, pitch, 250, 2)))


def test_columns_of_speeds() -> None:
    """A table of speeds at once; the point of a column of drills."""
    assert [4.0, 2.0] == pytest.approx(tapping_seconds(20, 1.25, np.array([480, 960])))
    assert [0.3004, 3.0043] == pytest.approx(drill_point_mm([1, 10]), abs=1e-4)


@given(lengths, pitches, st.floats(1, 5000), st.floats(1.001, 3))
def test_time_is_monotonic(depth: float, pitch: float, rpm: float, more: float) -> None:
    """Deeper is slower; coarser, faster turning and faster reversal are quicker."""
    base = tapping_seconds(depth, pitch, rpm)
    assert base < tapping_seconds(depth * more, pitch, rpm)
    for quicker in (
        tapping_seconds(depth, pitch * more, rpm),
        tapping_seconds(depth, pitch, rpm * more),
        tapping_seconds(depth, pitch, rpm, more),
    ):
        assert quicker < base


@given(lengths, pitches, chamfers, lengths, st.floats(0.5, 50))
def test_a_hole_as_deep_as_needed_is_deep_enough(
    depth: float, pitch: float, chamfer: Chamfer, hole: float, drill: float
) -> None:
    """What is missing is exactly what was missing; a shorter chamfer needs less."""
    need = hole_need(depth, pitch, chamfer, drill)
    check = check_depth(need, hole)
    assert not check_depth(need, need.drill_depth_mm).is_too_shallow
    assert check.is_too_shallow == (hole < need.drill_depth_mm - 1e-3)
    assert need.drill_depth_mm <= hole + check.missing_mm + 1e-9
    assert hole_need(depth, pitch, Chamfer.BOTTOMING, drill).drill_depth_mm <= need.drill_depth_mm


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf])
def test_what_cannot_be_is_named(bad: float) -> None:
    """Field and remedy."""
    with pytest.raises(InputError, match=r"rpm: .* is not possible; write a number above 0, in 1/min"):
        tapping_seconds(10, 1, bad)
    with pytest.raises(InputError, match="hole depth"):
        check_depth(hole_need(10, 1, Chamfer.PLUG, 5), bad)
    with pytest.raises(InputError, match="such as 118"):
        drill_point_mm(5, 180 if bad != 0 else 0)
