"""Surface speed and speed bands."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.cutting import SpeedBand, speed_band, spindle_speeds, surface_speed_m_min
from shopfloor.core.errors import InputError


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
