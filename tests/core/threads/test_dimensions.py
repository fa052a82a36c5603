"""Dimensions: order, units, classes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.threads.designations import parse
from shopfloor.core.threads.dimensions import (
    classes_of,
    dimensions,
    external_root_diameter,
    internal_minor_diameter,
    limits,
    pitch_diameter,
    stress_area_metric_mm2,
    stress_area_unified_in2,
)
from shopfloor.core.threads.series import Designation
from tests.core.threads.strategies import sixty_degree_threads, threads

FORMULAS = (pitch_diameter, internal_minor_diameter, external_root_diameter, stress_area_metric_mm2)


@given(threads())
def test_diameters_stand_in_order(thread: Designation) -> None:
    """Minor below pitch diameter below major, all above 0; height is half of major less minor but for taper."""
    of = dimensions(thread)
    assert 0 < of.minor_mm < of.pitch_diameter_mm < of.major_mm
    if of.root_mm is not None:
        assert of.root_mm < of.minor_mm
        assert of.height_mm == pytest.approx((of.major_mm - of.minor_mm) / 2)


@given(sixty_degree_threads)
def test_limits_hold_the_basic_sizes(thread: Designation) -> None:
    """Position H and class B start at the basic diameter; a finer class never allows more."""
    for name in classes_of(thread):
        of = limits(thread, name)
        assert of.minor_min_mm < of.minor_max_mm < of.major_min_mm
        assert of.pitch_diameter_min_mm == pytest.approx(dimensions(thread).pitch_diameter_mm, abs=1.3e-3)
        assert of.pitch_diameter_min_mm < of.pitch_diameter_max_mm
    widths = [limits(thread, name).pitch_diameter_max_mm for name in sorted(classes_of(thread))]
    assert sorted(widths, reverse=thread.series.is_unified) == widths


@given(st.floats(1, 64), st.floats(0.02, 0.2), st.floats(0.01, 10))
def test_each_grows_with_diameter_and_falls_with_pitch(major: float, part: float, more: float) -> None:
    """Monotonic in both variables."""
    pitch = part * major
    for formula in FORMULAS:
        assert formula(major, pitch) < formula(major + more, pitch)
        assert formula(major, pitch * 1.1) < formula(major, pitch)


@given(st.floats(0.06, 4), st.integers(4, 80))
def test_inch_and_metric_agree(major_in: float, tpi: int) -> None:
    """The same formula in either unit; the two stress areas differ by less than their rounded constant."""
    if major_in * tpi < 4:
        return
    assert 25.4 * pitch_diameter(major_in, 1 / tpi) == pytest.approx(pitch_diameter(25.4 * major_in, 25.4 / tpi))
    inch, metric = stress_area_unified_in2(major_in, tpi), stress_area_metric_mm2(25.4 * major_in, 25.4 / tpi)
    assert float(metric) == pytest.approx(645.16 * float(inch), rel=0.05)


def test_columns() -> None:
    """Arrays of sizes give arrays."""
    areas = stress_area_metric_mm2(np.array([8, 10]), np.array([1.25, 1.5]))
    assert [36.6, 58.0] == pytest.approx(areas, abs=0.05)  # ISO 898-1, from memory


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf, [8, 0]])
def test_what_cannot_be_is_named(bad: float) -> None:
    """The field and what would be right."""
    with pytest.raises(InputError, match=r"major: .* is not possible; write a number above 0"):
        pitch_diameter(bad, 1.25)


def test_class_asked_for_own_or_usual() -> None:
    """In this order; a class without limits names those there are."""
    assert ["3B", "3B", "2B"] == [limits(parse(t), c).thread_class for t, c in
                                  (("3/8-16-2B", "3B"), ("3/8-16-3B", None), ("3/8-16", None))]  # fmt: skip
    with pytest.raises(InputError, match="ask for 5H"):
        limits(parse("M1"), "6H")
