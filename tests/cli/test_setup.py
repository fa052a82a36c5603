from __future__ import annotations

import json
import math
from typing import Any

import pytest
from click.testing import CliRunner, Result

from shopfloor.cli import main
from shopfloor.cli.setup import KEYS

SOUND = {"--thread": "3/8-16", "--material": "steel", "--rpm": "300", "--depth": "10", "--hole": "through"}


def setup(*arguments: str, **changes: str) -> Result:
    """What the command says of a sound set-up with changes."""
    options = SOUND | {f"--{name.replace('_', '-')}": value for name, value in changes.items()}
    given = [part for pair in options.items() for part in pair]
    return CliRunner().invoke(main, ["setup", *given, *arguments], catch_exceptions=False)


def said(*arguments: str, **changes: str) -> dict[str, Any]:
    """The JSON object."""
    result = setup(*arguments, "--json", **changes)
    assert (0, "") == (result.exit_code, result.stderr)
    answer: dict[str, Any] = json.loads(result.stdout)
    return answer


def test_the_keys_are_those_that_are_documented() -> None:
    """In their order, and each in the help."""
    assert list(KEYS) == list(said())
    text = " ".join(setup("--help").stdout.split())
    assert all(f"{key}:" in text for key in KEYS)


def test_figures() -> None:
    """5/16 drill, pi d n / 1000, depth over pitch over speed."""
    answer = said()
    assert ("3/8-16 UNC", "P", "5/16", 7.9375) == (
        answer["thread"], answer["iso_group"], answer["tap_drill_name"], answer["tap_drill_mm"],
    )  # fmt: skip
    assert math.pi * 9.525 * 0.3 == pytest.approx(answer["surface_speed_m_min"])
    assert 10 / 1.5875 / 300 * 60 == pytest.approx(answer["seconds_per_hole"])
    assert answer["torque_nm"] * 300 / 9549.3 == pytest.approx(answer["power_kw"], rel=1e-4)
    assert answer["torque_nm"] < answer["clutch_nm"][0] < answer["clutch_nm"][1] < answer["shear_nm"]
    assert (None, None, None) == (answer["margin"], answer["station_largest_mm"], answer["drill_depth_needed_mm"])
    assert ["reminder"] == [warning["weight"] for warning in answer["warnings"]]


def numbers(value: object) -> list[float]:
    """Every number in an answer."""
    if isinstance(value, dict | list):
        return [n for part in (value.values() if isinstance(value, dict) else value) for n in numbers(part)]
    return [value] if isinstance(value, float) else []


@pytest.mark.parametrize("thread", ["#0-80", "M1", "4-4", "G 1/4", "1/8-27 NPT", "M64"])
@pytest.mark.parametrize("material", ["P", "M", "K", "N", "S", "H"])
def test_numbers_are_finite(thread: str, material: str) -> None:
    """Or null."""
    assert all(math.isfinite(number) for number in numbers(said(thread=thread, material=material, depth="1")))


def test_inches() -> None:
    """0.7in is 17.78 mm."""
    assert 17.78 == said(depth="0.7in")["depth_mm"] == said(depth="17.78 mm")["depth_mm"]
    assert 17.78 == said(depth='0.7"')["depth_mm"]


def test_everything_that_can_be_said() -> None:
    """All options together, and the heaviest warning first."""
    answer = said(
        "--not-chamfered", "--reamed", "--coated",
        hole="blind", hardness="300", rpm="600", drilled="7.8", drill_depth="15", hole_making="laser_cut",
        tap_style="spiral-point", chamfer="Taper", substrate="hss-pm", percent="75", station="electric arm",
        station_rpm="25-500", station_torque="20", reducer="1", depth_control="by eye", lubricant="none", holes="300",
    )  # fmt: skip
    assert ("tempered steel", "spiral point", "taper", "HSS-PM") == tuple(
        answer[key] for key in ("material", "tap_style", "chamfer", "substrate")
    )
    weights = [warning["weight"] for warning in answer["warnings"]]
    assert sorted(weights, key=["stop", "serious", "caution", "reminder"].index) == weights
    assert {"Hole too shallow", "Speed is outside the station's range", "Depth by eye on a long run"} < {
        warning["what"] for warning in answer["warnings"]
    }
    assert answer["margin"] == pytest.approx(20 / answer["torque_dull_nm"])


def test_for_people() -> None:
    """The same in lines."""
    text = setup(hole="blind", drill_depth="12", station_torque="50").stdout
    assert "Drill         5/16 (7.938 mm, 77 % of thread)" in text
    assert "STOP: Hole too shallow." in text
    assert "(guide values)" in text
    assert "better" not in text
    assert "times the torque of a dull tap" in text


def test_a_style_that_does_not_suit() -> None:
    """The suitable one is named beside it."""
    assert (
        "Spiral point, plug chamfer; recommended: spiral flute (blind"
        in setup(hole="blind", tap_style="spiral point").stdout
    )


@pytest.mark.parametrize(
    ("changes", "option", "right"),
    [
        ({"thread": "3/8-17"}, "--thread", "3/8-16 UNC"),
        ({"thread": "half inch"}, "--thread", ""),
        ({"material": "cheese"}, "--material", "stainless steel"),
        ({"hardness": "-3"}, "--hardness", "Brinell"),
        ({"rpm": "fast"}, "--rpm", "digits"),
        ({"rpm": "0"}, "--rpm", "above 0"),
        ({"rpm": "nan"}, "--rpm", "digits"),
        ({"depth": "0"}, "--depth", "18mm or 0.7in"),
        ({"depth": "3 furlongs"}, "--depth", ""),
        ({"depth": "9999"}, "--depth", "with its unit"),
        ({"hole": "round"}, "--hole", "blind or through"),
        ({"drilled": "10"}, "--drilled", "before tapping"),
        ({"tap_style": "curly"}, "--tap-style", "spiral point"),
        ({"chamfer": "none"}, "--chamfer", "bottoming"),
        ({"substrate": "wood"}, "--substrate", "carbide"),
        ({"hole_making": "bitten"}, "--hole-making", "plasma cut"),
        ({"percent": "10"}, "--percent", "40 to 100"),
        ({"station_rpm": "slow"}, "--station-rpm", "25-500"),
        ({"station_rpm": "500-25"}, "--station-rpm", "25-500"),
        ({"station_torque": "0"}, "--station-torque", "above 0"),
        ({"reducer": "-2"}, "--reducer", "above 0"),
        ({"holes": "2.5"}, "--holes", "1, 2, 3"),
        ({"lubricant": "butter"}, "--lubricant", "flood"),
    ],
)
def test_bad_use(changes: dict[str, str], option: str, right: str) -> None:
    """Exit code 2, nothing on standard output, the option named and what would be right."""
    result = setup("--json", **changes)
    assert (2, "") == (result.exit_code, result.stdout)
    assert option in result.stderr
    assert right in result.stderr


@pytest.mark.parametrize("option", SOUND)
def test_what_must_be_given(option: str) -> None:
    """Thread, material, speed, depth and hole."""
    given = [part for name, value in SOUND.items() if name != option for part in (name, value)]
    result = CliRunner().invoke(main, ["setup", *given])
    assert (2, True) == (result.exit_code, option in result.stderr)
