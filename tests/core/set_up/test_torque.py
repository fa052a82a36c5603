from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.set_up.drive import StationDrive, largest_thread, margin
from shopfloor.core.set_up.materials import KC_SOURCE, MATERIALS, Family, material_of_group, work_material
from shopfloor.core.set_up.torque import (
    cutting_torque_nm,
    flank_integral,
    power_kw,
    style_factor,
    tap_torque,
    usual_hole_mm,
)
from shopfloor.core.threads.designations import parse
from shopfloor.core.vocabulary import Chamfer, IsoGroup, TapStyle
from tests.published.cutting import LARGEST_OF_ONE_ARM, SAME_TORQUE, SAME_TORQUE_WITHIN, cutting, rows

diameters = st.floats(1.5, 60)
pitch_shares = st.floats(0.04, 0.25)
forces = st.floats(400, 6000)
percents = st.floats(45, 85)
more = st.floats(1.01, 1.5)

SAMPLES = {
    "unalloyed_and_free_cutting_steel_to_700_MPa": "free-machining steel",
    "structural_steel_500_950": "structural steel",
    "quenched_tempered_500_950": "alloy steel",
    "quenched_tempered_950_1400": "tempered steel",
    "austenitic_stainless_500_950": "austenitic stainless",
    "grey_cast_iron": "grey cast iron",
    "alloy_cast_iron": "alloy cast iron",
    "malleable_iron": "malleable iron",
    "aluminium_long_chip": "aluminium",
    "aluminium_short_chip": "cast aluminium",
    "copper_long_chip": "copper",
    "copper_short_chip": "brass",
}


def hole_at(percent: float, major_mm: float, pitch_mm: float) -> float:
    """The hole of a percentage of thread (depth 0.6495 P a side)."""
    return major_mm - 1.299038 * pitch_mm * percent / 100


def torque_of(thread: str, material: str, style: TapStyle = TapStyle.STRAIGHT_FLUTE) -> float:
    """Sharp torque in the usual hole."""
    read = parse(thread)
    return tap_torque(work_material(material), read.major_mm, read.pitch_mm, None, style).sharp_nm


@pytest.mark.parametrize("row", rows("tapping-torque-simple"))
def test_published_formula_at_the_usual_hole(row: dict[str, float]) -> None:
    """kc P^2 D / 8000 is met exactly where the hole is D - P."""
    D, P = row["D"], row["P"]
    assert row["torque_Nm"] == pytest.approx(cutting_torque_nm(row["kc"], D, P, D - P), rel=1e-6)


@pytest.mark.parametrize("row", rows("tapping-torque-geometric"))
def test_flank_integral_is_that_of_the_other_published_formula(row: dict[str, float]) -> None:
    """With its own forces and factors before it, the shape gives the published torques."""
    flanks = flank_integral(row["D"], row["D0"])
    assert row["torque_Nm"] == pytest.approx(math.tan(math.pi / 6) * row["kc"] * row["K"] * flanks / 24000, rel=1e-6)


@pytest.mark.parametrize(("published", "name"), SAMPLES.items())
def test_published_forces(published: str, name: str) -> None:
    """Each printed specific cutting force is that of the material it stands for, and is said to be published."""
    material = work_material(name)
    assert cutting("tapping-torque-simple")["kc_N_mm2"][published] == material.kc_n_mm2
    assert material.kc_source == KC_SOURCE


def test_forces_without_source_say_so() -> None:
    """Where no value is published the material's own words tell."""
    published = {work_material(name).name for name in SAMPLES.values()} | {"stainless steel", "bronze"}
    assert all(("assumed" in material.kc_source) == (material.name not in published) for material in MATERIALS)


@pytest.mark.parametrize(
    ("kc", "K", "name"),
    [("C35", "steel", "steel"), ("X6CrNi18_10", "steel", "stainless"), ("AlSi8Cu3", "iron_aluminium", "aluminium")],
)
def test_both_published_formulas_agree_in_steel_stainless_and_aluminium(kc: str, K: str, name: str) -> None:
    """Straight flutes and plug chamfer are what the simple formula stands for: within 25 % of the other one."""
    other = cutting("tapping-torque-geometric")
    force = other["kc_N_mm2"][kc] * other["K_coarse"][K]["straight_plug"]
    for D, P in ((6, 1), (10, 1.5), (16, 2)):
        torque = math.tan(math.pi / 6) * force * flank_integral(D, D - P) / 24000
        assert torque == pytest.approx(tap_torque(work_material(name), D, P).sharp_nm, rel=0.25)


@pytest.mark.parametrize(
    ("style", "key"), [(TapStyle.SPIRAL_FLUTE, "spiral_flute"), (TapStyle.SPIRAL_POINT, "spiral_point")]
)
def test_measured_torque_of_the_styles(style: TapStyle, key: str) -> None:
    """The published factors lie within 15 % of what was measured in steel."""
    low, high = cutting("tapping-torque-styles")["published"][key]
    assert low / 100 * 0.85 <= style_factor(Family.STEEL, style) <= high / 100 * 1.15


@pytest.mark.parametrize(
    ("family", "key"), [(Family.STEEL, "steel"), (Family.IRON_ALUMINIUM, "iron_aluminium"), (Family.BRASS, "brass")]
)
def test_published_factors_of_style(family: Family, key: str) -> None:
    """Each factor is the ratio of two printed ones."""
    K = cutting("tapping-torque-geometric")["K_coarse"][key]
    straight = K["straight_plug"]
    assert K["spiral_flute"] / straight == pytest.approx(style_factor(family, TapStyle.SPIRAL_FLUTE))
    assert K["spiral_point"] / straight == pytest.approx(style_factor(family, TapStyle.SPIRAL_POINT))
    bottoming = style_factor(family, TapStyle.STRAIGHT_FLUTE, Chamfer.BOTTOMING)
    assert K["straight_bottoming"] / straight == pytest.approx(bottoming)


def test_more_thread_costs_torque_but_less_than_was_once_measured() -> None:
    """From 60 to 72 % of thread a trial saw twice the torque; the model, without packed chips, sees part of it."""
    trial = cutting("torque-and-percentage")["published"]
    small, large = (cutting_torque_nm(2500, 10.0, 1.5, hole_at(percent, 10, 1.5)) for percent in trial["percent"])
    assert 1.3 < large / small <= trial["torque_ratio"]


def test_forming_torque_is_a_multiple_of_cutting_torque() -> None:
    """Two to three times, as published."""
    low, high = cutting("forming-torque")["published"]["times_a_cutting_tap"]
    assert low <= torque_of("M8", "aluminium", TapStyle.FORMING) / torque_of("M8", "aluminium") <= high


@pytest.mark.parametrize(("one", "other"), list(itertools.combinations(SAME_TORQUE, 2)))
@pytest.mark.parametrize("style", [TapStyle.STRAIGHT_FLUTE, TapStyle.SPIRAL_POINT, TapStyle.SPIRAL_FLUTE])
def test_threads_of_about_equal_torque(one: tuple[str, str], other: tuple[str, str], style: TapStyle) -> None:
    """Common practice, no source: 5/8-11 in steel, 9/16-12 in stainless and 1-8 in aluminium need about the same."""
    assert torque_of(*one, style) == pytest.approx(torque_of(*other, style), rel=SAME_TORQUE_WITHIN)


@pytest.mark.parametrize(("material", "least", "most"), LARGEST_OF_ONE_ARM)
def test_one_arm_in_many_materials(material: str, least: str, most: str) -> None:
    """Common practice, no source: what an arm that taps 5/8 in steel manages elsewhere."""
    arm = parse("5/8-11")
    torque_nm = tap_torque(work_material("steel"), arm.major_mm, arm.pitch_mm).dull_nm
    largest = largest_thread(torque_nm, work_material(material))
    assert largest is not None
    assert parse(least).major_mm <= largest.major_mm <= parse(most).major_mm


@pytest.mark.parametrize("row", rows("spindle-power"))
def test_power(row: dict[str, float]) -> None:
    """Torque times angular speed."""
    assert row["kW"] == pytest.approx(power_kw(row["torque_Nm"], row["rpm"]), rel=1e-6)


@given(diameters, pitch_shares, forces, percents, more)
def test_torque_rises_with_diameter_pitch_and_force(
    D: float, share: float, kc: float, percent: float, m: float
) -> None:
    """At one percentage of thread, each of them adds torque."""
    P = share * D
    torque = cutting_torque_nm(kc, D, P, hole_at(percent, D, P))
    assert torque < cutting_torque_nm(kc, m * D, P, hole_at(percent, m * D, P))
    assert torque < cutting_torque_nm(kc, D, m * P, hole_at(percent, D, m * P))
    assert torque < cutting_torque_nm(m * kc, D, P, hole_at(percent, D, P))


@given(diameters, pitch_shares, percents, st.sampled_from(TapStyle), more)
def test_torque_falls_with_a_larger_hole(D: float, share: float, percent: float, style: TapStyle, m: float) -> None:
    """Less thread, less torque, sharp and dull, for every style."""
    steel, P = work_material("steel"), share * D
    small, large = (tap_torque(steel, D, P, hole_at(p, D, P), style) for p in (percent, percent / m))
    assert small.sharp_nm > large.sharp_nm > 0
    assert small.dull_nm > large.dull_nm > large.sharp_nm


@given(diameters, pitch_shares, st.floats(0.1, 10))
def test_torque_goes_with_the_cube_of_scale(D: float, share: float, scale: float) -> None:
    """So inches and millimetres give one answer."""
    P = share * D
    small, large = (cutting_torque_nm(2500, s * D, s * P, s * (D - P)) for s in (1, scale))
    assert large == pytest.approx(small * scale**3)


def test_tables_in_one_call() -> None:
    """Arrays of sizes give arrays of torques."""
    D, P = np.array([6.0, 10.0]), np.array([1.0, 1.5])
    assert [1.875, 7.03125] == pytest.approx(cutting_torque_nm(2500, D, P, usual_hole_mm(D, P)))


@pytest.mark.parametrize(("hole", "field"), [(10, "hole"), (11, "hole"), (0, "hole"), (-1, "hole"), (math.nan, "hole")])
def test_holes_that_are_none(hole: float, field: str) -> None:
    """A hole that leaves nothing to cut is refused, with what would be right."""
    with pytest.raises(InputError, match=rf"{field}.*give one between 8\.376 and 10 mm"):
        tap_torque(work_material("steel"), 10, 1.5, hole)


def test_a_reducer_trades_speed_for_torque() -> None:
    """Ratio r: speed through r, torque times r."""
    station = StationDrive(rpm_low=100, rpm_high=1500, torque_nm=12, reducer_ratio=3)
    assert (500, 36) == (station.tap_rpm_high, station.tap_torque_nm)
    assert 2 == margin(station, 18)
    assert margin(StationDrive(), 18) is None


def test_a_station_too_weak_for_any_thread() -> None:
    """No thread is an answer."""
    assert largest_thread(0.001, work_material("steel")) is None


@given(st.floats(0.2, 500), more)
def test_more_torque_drives_no_smaller_thread(torque: float, m: float) -> None:
    """The largest thread never falls with the station's torque."""
    small, large = (largest_thread(t, work_material("steel")) for t in (torque, m * torque))
    assert (small.major_mm if small else 0) <= (large.major_mm if large else 0)


@pytest.mark.parametrize("field", ["rpm_low", "rpm_high", "torque_nm", "reducer_ratio"])
@pytest.mark.parametrize("value", [0, -1, math.inf, math.nan])
def test_stations_that_are_none(field: str, value: float) -> None:
    """Each figure must be above 0."""
    wrong: dict[str, Any] = {field: value}
    with pytest.raises(InputError, match="give a number above 0"):
        StationDrive(**wrong)


@pytest.mark.parametrize(
    ("text", "hardness", "name"),
    [
        ("P", None, "steel"), ("m", None, "stainless steel"), ("304 Stainless", None, "stainless steel"),
        ("aluminum 6061", None, "aluminium"), ("steel", 300, "tempered steel"), ("P", 500, "hardened steel"),
        ("cast iron", None, "grey cast iron"), ("BRASS bar", None, "brass"),
        ("die-cast aluminium", None, "cast aluminium"),
        ("free-cutting steel", None, "free-machining steel"),
    ],
)  # fmt: skip
def test_words_for_materials(text: str, hardness: float | None, name: str) -> None:
    """What people write is found by its longest known word, and hardness moves steel on."""
    assert name == work_material(text, hardness).name


def test_the_groups_are_those_of_iso_513() -> None:
    """Letter by letter."""
    assert list(cutting("iso513-groups")["values"]) == [group.value for group in IsoGroup]


@pytest.mark.parametrize("group", IsoGroup)
def test_every_group_has_a_kind(group: IsoGroup) -> None:
    """A letter alone is enough."""
    assert group == material_of_group(group).group == work_material(group.value).group


@pytest.mark.parametrize("text", ["", "cheese", "X", "steely"])
def test_materials_that_are_none(text: str) -> None:
    """The message lists what there is."""
    with pytest.raises(InputError, match=r"give P, M, K, N, S or H, or one of: .*stainless steel"):
        work_material(text)


@pytest.mark.parametrize("hardness", [0, -5, 1000, math.nan])
def test_hardness_that_is_none(hardness: float) -> None:
    """Brinell is asked for."""
    with pytest.raises(InputError, match="give Brinell"):
        work_material("steel", hardness)
