from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.set_up.clutch import (
    ABOVE_SHARP,
    BELOW_SHEAR,
    SHEAR_MPA,
    ClutchWindow,
    clutch_window,
    shear_torque_nm,
)
from shopfloor.core.set_up.materials import MATERIALS, work_material
from shopfloor.core.set_up.torque import tap_torque
from shopfloor.core.threads.designations import parse
from shopfloor.core.vocabulary import Substrate, TapStyle

COARSE = ["M1.6", "M2", "M2.5", "M3", "M4", "M5", "M6", "M8", "M10", "M12", "M16", "M20", "M24"]
INCH = ["#0-80", "#2-56", "#4-40", "#6-32", "#8-32", "1/4-20", "5/16-18", "3/8-16", "1/2-13", "5/8-11", "3/4-10", "1-8"]


def window(
    thread: str, material: str = "steel", style: TapStyle = TapStyle.SPIRAL_POINT, hole_mm: float | None = None
) -> ClutchWindow:
    """The window of a tap of high-speed steel."""
    read = parse(thread)
    torque = tap_torque(work_material(material), read.major_mm, read.pitch_mm, hole_mm, style)
    return clutch_window(torque, read.major_mm, read.pitch_mm, style)


@pytest.mark.parametrize("series", [COARSE, INCH])
@pytest.mark.parametrize("style", TapStyle)
def test_smaller_taps_have_smaller_windows(series: list[str], style: TapStyle) -> None:
    """In newton metres, from size to size along a coarse series."""
    widths = [window(size, "aluminium", style).high_nm - window(size, "aluminium", style).low_nm for size in series]
    assert sorted(widths) == widths
    assert 0 < widths[0]


@pytest.mark.parametrize("style", TapStyle)
def test_small_taps_have_less_room_in_proportion(style: TapStyle) -> None:
    """Their pitch is coarse for their diameter, so their core is thin for the chip."""
    rooms = [window(size, "steel", style).room for size in ("M2", "M6", "M16")]
    assert sorted(rooms) == rooms


def test_both_ends_come_from_torques() -> None:
    """Above the sharp tap's, below what shears."""
    seen = window("M8")
    assert (ABOVE_SHARP * seen.sharp_nm, BELOW_SHEAR * seen.shear_nm) == (seen.low_nm, seen.high_nm)
    assert seen.sharp_nm < seen.low_nm < seen.high_nm < seen.shear_nm
    assert seen.is_open


def test_no_window() -> None:
    """Where a sharp tap needs more than is safe, no setting is."""
    seen = window("M1.6", "hardened steel", TapStyle.SPIRAL_FLUTE)
    assert not seen.is_open
    assert 1 > seen.room


def test_sound_taps_of_medium_size_have_a_window_everywhere() -> None:
    """Common practice, no source: an M10 tap with a spiral point has room in every material."""
    assert all(window("M10", material.name).is_open for material in MATERIALS)


def test_a_larger_hole_opens_the_window() -> None:
    """Less thread, less torque, the same core."""
    assert window("M4", hole_mm=3.2).room < window("M4", hole_mm=3.3).room < window("M4", hole_mm=3.4).room


@given(st.floats(1, 60), st.floats(0.05, 0.25), st.floats(1.01, 2), st.sampled_from(TapStyle))
def test_strength_rises_with_diameter_and_falls_with_pitch(D: float, share: float, m: float, style: TapStyle) -> None:
    """A thicker core, a stronger tap."""
    P = share * D
    assert shear_torque_nm(D, P, style) < shear_torque_nm(m * D, P, style)
    assert shear_torque_nm(D, P, style) < shear_torque_nm(D, P / m, style)
    assert m**3 * shear_torque_nm(D, P, style) == pytest.approx(shear_torque_nm(m * D, m * P, style))


def test_flutes_weaken() -> None:
    """Deep spiral flutes most, a forming tap not."""
    order = [TapStyle.SPIRAL_FLUTE, TapStyle.STRAIGHT_FLUTE, TapStyle.SPIRAL_POINT, TapStyle.FORMING]
    strengths = [shear_torque_nm(8.0, 1.25, style) for style in order]
    assert sorted(strengths) == strengths


@pytest.mark.parametrize("substrate", Substrate)
def test_every_substrate_has_a_strength(substrate: Substrate) -> None:
    """In the order of their shear strengths."""
    torque = shear_torque_nm(8.0, 1.25, TapStyle.STRAIGHT_FLUTE, substrate)
    hss = shear_torque_nm(8.0, 1.25, TapStyle.STRAIGHT_FLUTE)
    assert SHEAR_MPA[substrate] / SHEAR_MPA[Substrate.HSS] == pytest.approx(torque / hss)


def test_tables_in_one_call() -> None:
    """Arrays of sizes give arrays of torques."""
    torques = shear_torque_nm(np.array([6.0, 8.0]), np.array([1.0, 1.25]), TapStyle.STRAIGHT_FLUTE)
    assert (2,) == torques.shape
    assert torques[0] < torques[1]
