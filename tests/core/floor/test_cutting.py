"""Surface speed and speed bands."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.floor.cutting import (
    SpeedBand,
    feed_mm_min,
    ft_min_from_m_min,
    m_min_from_ft_min,
    rpm_for,
    rpm_for_ft_min,
    speed_band,
    spindle_speeds,
    surface_speed_ft_min,
    surface_speed_m_min,
)
from tests.published.cutting import rows


@pytest.mark.parametrize(
    ("speed", "diameter_mm", "rpm"),
    [(10, 10, 318.30989), (6, 3, 636.61977), (15, 6, 795.77472), (8, 20, 127.32395), (25, 8, 994.71839)],
)
def test_surface_speed(speed: float, diameter_mm: float, rpm: float) -> None:
    """v = pi d n / 1000: definition of cutting speed; figures as in Machinery's Handbook's rpm formula."""
    assert speed == pytest.approx(surface_speed_m_min(diameter_mm, rpm), rel=1e-6)


@pytest.mark.parametrize(
    ("speed_ft_min", "diameter_in", "rpm"),
    [(50, 0.25, 763.94373), (30, 0.5, 229.18312), (20, 1.0, 76.394373), (60, 0.19, 1206.2269)],
)
def test_surface_speed_of_inch_sizes(speed_ft_min: float, diameter_in: float, rpm: float) -> None:
    """The same in feet per minute, V = 12 V / (pi D) solved for V (Machinery's Handbook)."""
    assert speed_ft_min * 0.3048 == pytest.approx(surface_speed_m_min(diameter_in * 25.4, rpm), rel=1e-6)


@given(st.floats(0.01, 30_000), st.none() | st.floats(0.3, 100))
def test_every_speed_lies_in_its_band(rpm: float, diameter_mm: float | None) -> None:
    """Low end included, high end not; the label can be read back."""
    band = speed_band(rpm, diameter_mm)
    speed = rpm if diameter_mm is None else surface_speed_m_min(diameter_mm, rpm)
    assert band.low <= speed < band.high
    assert band == SpeedBand.parse(band.label)


def test_bands_are_preferred_numbers() -> None:
    """The edges are the R5 series of ISO 3: 1, 1.6, 2.5, 4, 6.3 and their tens."""
    edges = [speed_band(rpm, None).low for rpm in (1, 1.6, 2.5, 4, 6.3, 10, 16, 25, 40, 63, 100)]
    assert [1, 1.6, 2.5, 4, 6.3, 10, 16, 25, 40, 63, 100] == edges


@pytest.mark.parametrize("rpm", [0, -5, float("nan")])
def test_no_speed_no_band(rpm: float) -> None:
    """A speed that is none is refused by name."""
    with pytest.raises(InputError, match="rpm"):
        speed_band(rpm, None)


@pytest.mark.parametrize("label", ["", "fast", "6.3-10", "a-b m/min"])
def test_labels_that_are_none(label: str) -> None:
    """A label from an address bar may be anything."""
    with pytest.raises(InputError, match="speed band"):
        SpeedBand.parse(label)


def test_labels_have_no_powers_of_ten() -> None:
    """The slowest hand wrench has a band that people can read."""
    assert "0.00063-0.001 m/min" == speed_band(0.5, 0.5).label


def test_a_fixed_speed_is_named_once() -> None:
    """A station with one speed has no range."""
    assert ("350 rpm (fixed)", "25 to 500 rpm") == (spindle_speeds(350, 350), spindle_speeds(25, 500))


@pytest.mark.parametrize("row", [row for row in rows("spindle-speed") if "v_m_min" in row])
def test_published_rpm(row: dict[str, float]) -> None:
    """Spindle speed from surface speed, and back."""
    rpm = rpm_for(row["D_mm"], row["v_m_min"])
    assert row["rpm"] == pytest.approx(rpm, rel=1e-6)
    assert row["v_m_min"] == pytest.approx(surface_speed_m_min(row["D_mm"], rpm))


@pytest.mark.parametrize("row", [row for row in rows("spindle-speed") if "V_ft_min" in row])
def test_published_rpm_in_inches(row: dict[str, float]) -> None:
    """12 V / (pi D), which the shop's 3.82 V / D rounds."""
    D, V = row["D_in"], row["V_ft_min"]
    rpm = rpm_for_ft_min(D, V)
    assert row["rpm"] == pytest.approx(rpm, rel=1e-6)
    assert row["rpm_shop_constant_3_82"] == pytest.approx(rpm, rel=1e-3)
    assert V == pytest.approx(surface_speed_ft_min(D, rpm))


@given(st.floats(0.5, 100), st.floats(1, 2000))
def test_inch_and_metric_agree(diameter_mm: float, rpm: float) -> None:
    """One speed, whatever the units."""
    ft_min = surface_speed_ft_min(diameter_mm / 25.4, rpm)
    assert surface_speed_m_min(diameter_mm, rpm) == pytest.approx(m_min_from_ft_min(ft_min))
    assert ft_min == pytest.approx(ft_min_from_m_min(m_min_from_ft_min(ft_min)))


def test_published_feeds() -> None:
    """A tap goes in by its pitch a turn."""
    metric, inch = rows("tap-feed")
    assert metric["feed_mm_min"] == pytest.approx(feed_mm_min(metric["pitch_mm"], metric["rpm"]))
    assert inch["feed_in_min"] == pytest.approx(feed_mm_min(25.4 / inch["tpi"], inch["rpm"]) / 25.4)


def test_tables_in_one_call() -> None:
    """Arrays of diameters give arrays of speeds."""
    diameters = np.array([6.0, 10.0])
    speeds = surface_speed_m_min(diameters, 250)
    assert [4.712389, 7.853982] == pytest.approx(speeds)
    assert [250, 250] == pytest.approx(rpm_for(diameters, speeds))
