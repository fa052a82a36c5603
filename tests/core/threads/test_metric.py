"""Metric threads against ISO 261, 724, 898-1 and 965-1."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.threads.designations import parse
from shopfloor.core.threads.dimensions import dimensions
from shopfloor.core.threads.metric import (
    classes_of,
    limits_mm,
    minor_tolerance_um,
    pitch_diameter_tolerance_um,
    preferred,
    sizes,
)
from tests.published.threads import METRIC, METRIC_6H_PITCH, TOLERANCES, Row, half_unit, size_of

GRADES = [(f"grade_{grade}_um", f"{grade}H") for grade in "567"]


@pytest.mark.parametrize("row", METRIC, ids=size_of)
def test_basic_diameters_and_stress_area(row: Row) -> None:
    """Diameters to the printed digits, areas to the printed three figures."""
    of = dimensions(parse(row["size"]))
    for printed, mm in (("major_mm", of.major_mm), ("pitch_mm", of.pitch_mm), ("pitch_dia_mm", of.pitch_diameter_mm),
                        ("minor_internal_mm", of.minor_mm), ("root_dia_external_d3_mm", of.root_mm)):  # fmt: skip
        assert float(row[printed]) == pytest.approx(mm, abs=max(half_unit(row[printed]), 5e-5) + 1e-6)
    assert float(row["stress_area_mm2"]) == pytest.approx(of.stress_area_mm2, rel=5e-4)
    assert float(row["stress_area_printed"]) == pytest.approx(of.stress_area_mm2, rel=5e-3)


@pytest.mark.parametrize("row", METRIC, ids=size_of)
def test_limits_6h_are_the_printed_ones(row: Row) -> None:
    """Exactly, to the micrometre."""
    names = ("minor_min_6H", "minor_max_6H", "pd_min_6H", "pd_max_6H")
    assert [float(row[name]) for name in names] == pytest.approx(limits_mm(parse(row["size"]), "6H"), abs=1e-9)


@pytest.mark.parametrize("row", METRIC_6H_PITCH, ids=size_of)
def test_pitch_diameters_6h_of_a_printed_table(row: Row) -> None:
    """Exactly, to the micrometre."""
    thread = parse(row["size"])
    assert float(row["pitch_mm"]) == thread.pitch_mm
    assert [float(row["pd_min_6H"]), float(row["pd_max_6H"])] == pytest.approx(limits_mm(thread, "6H")[2:], abs=1e-9)


@pytest.mark.parametrize(
    "row", TOLERANCES, ids=lambda row: "-".join((row["tolerance"], row["major_mm"], row["pitch_mm"]))
)
def test_tolerances_are_those_of_the_tables(row: Row) -> None:
    """Formula, preferred number and the few printed exceptions give every figure of ISO 965-1, tables 3 and 6."""
    pitch = float(row["pitch_mm"])
    for column, name in GRADES:
        if row[column] and row["tolerance"] == "TD1":
            assert float(row[column]) == pytest.approx(float(minor_tolerance_um(pitch, name)), abs=1e-6)
        elif row[column]:
            ours = float(pitch_diameter_tolerance_um(float(row["major_mm"]), pitch, name))
            assert float(row[column]) == pytest.approx(ours, abs=1e-6)


def test_fine_pitches_have_fewer_classes() -> None:
    """ISO 965-1 leaves the coarser grades of the finest pitches empty."""
    assert [(), ("5H",), ("5H", "6H"), ("5H", "6H", "7H")] == [classes_of(p) for p in (0.2, 0.25, 0.3, 0.5)]


def test_coarse_and_fine_cover_m1_to_m64() -> None:
    """One coarse pitch a size, finer ones below it."""
    coarse = {t.size: t.pitch_mm for t in sizes() if t.text == f"M{t.size}"}
    fine = [t for t in sizes() if t.text != f"M{t.size}"]
    assert (1.0, 64.0) == (min(map(float, coarse)), max(map(float, coarse)))
    assert all(t.pitch_mm < coarse.get(t.size, 9) for t in fine)


@given(st.floats(0.5, 9000), st.floats(1, 1.5))
def test_preferred_numbers_rise(value: float, more: float) -> None:
    """Rounding keeps the order, and moves by half a step of R40 at most (3.5 %, as printed)."""
    low, high = preferred([value, value * more])
    assert low <= high
    assert value == pytest.approx(low, rel=0.036)


@given(st.sampled_from([0.35, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0]), st.sampled_from([1.3, 2, 4, 8, 16, 30, 60]))
def test_tolerances_rise_with_diameter_and_grade(pitch: float, major: float) -> None:
    """Arrays in, arrays out: larger diameters and coarser grades never have less."""
    by_size = pitch_diameter_tolerance_um(np.array([major, 1.5 * major]), pitch, "6H")
    by_grade = [float(pitch_diameter_tolerance_um(major, pitch, name)) for name in ("5H", "6H", "7H")]
    assert by_size[0] <= by_size[1]
    assert sorted(by_grade) == by_grade
    assert minor_tolerance_um(pitch, "5H") < minor_tolerance_um(pitch, "7H")
