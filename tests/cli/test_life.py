from __future__ import annotations

import json
import math
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from shopfloor.cli import main
from shopfloor.core.observations import Lives
from tests.published.life import case, lives_of, lives_with_causes

FILE = "lives.csv"


def life(*arguments: str | Path) -> Result:
    """What the command says."""
    return CliRunner().invoke(main, ["life", *map(str, arguments)])


def answer(*arguments: str | Path) -> dict[str, Any]:
    """What it says as JSON, every number finite or null."""
    result = life(*arguments, "--json")
    assert 0 == result.exit_code, result.output

    def refuse(constant: str) -> None:
        pytest.fail(f"{constant} is no JSON")

    parsed: dict[str, Any] = json.loads(result.stdout, parse_constant=refuse)
    return parsed


def written(path: Path, lives: Lives) -> Path:
    """The lives as a CSV file."""
    rows = zip(lives.lower, lives.upper, lives.entry, lives.mode, lives.count, strict=True)
    lines = [f"{a},{'' if math.isinf(b) else b},{e},{m},{n:.0f}" for a, b, e, m, n in rows]
    path.write_text("\n".join(["lower,upper,entry,mode,count", *lines]), encoding="utf-8")
    return path


@pytest.mark.parametrize("name", ["nist-8.4.1.2", "part-cracking", "mixed-log-1", "macs-aids"])
def test_published_fits(tmp_path: Path, name: str) -> None:
    """Right-censored, interval, mixed and part-used lives come out as published."""
    published = case("life", name)
    path = written(tmp_path / FILE, lives_of(published["data"]))
    fit = answer(path, "--level", "0.95")["weibull"]
    expected = published["expected"]
    for key, known in (("shape", "beta"), ("scale", "eta"), ("log_likelihood", "loglik"), ("life_10", "b10")):
        assert expected[known] == pytest.approx(fit[key], rel=1e-6)
    for key, known in (("shape", "beta"), ("scale", "eta"), ("life_10", "b10")):
        assert expected[f"{known}_ci95_lr"] == pytest.approx(fit[f"{key}_interval"], rel=1e-6)
    assert (0.95, "profile") == (fit["level"], fit["method"])


@pytest.mark.parametrize("name", ["nist-8.4.1.2", "part-cracking", "mixed-log-1", "macs-aids"])
def test_calibrated_holds_with_few_failures(tmp_path: Path, name: str) -> None:
    """On request: a flatter shape within its interval; the published most likely law stands beside it."""
    published = case("life", name)
    path = written(tmp_path / FILE, lives_of(published["data"]))
    fit = answer(path, "--interval", "calibrated")["weibull"]
    assert (0.90, "calibrated") == (fit["level"], fit["method"])
    for key, known in (("shape_mle", "beta"), ("scale_mle", "eta"), ("log_likelihood", "loglik")):
        assert published["expected"][known] == pytest.approx(fit[key], rel=1e-6)
    assert fit["shape_interval"][0] < fit["shape"] < fit["shape_mle"]
    assert fit["shape"] < fit["shape_interval"][1]


def test_an_odd_log_is_said_to_be_odd(tmp_path: Path) -> None:
    """Two lots in one table do not look like a Weibull law, in JSON and in words; few failures cannot tell."""
    ages = [*range(50, 70, 2), *range(900, 1100, 10)]
    path = written(tmp_path / FILE, Lives.of(ages, ages))
    assert "does not fit" == answer(path)["weibull"]["goodness"]
    assert "Weibull law: does not fit" in life(path).stdout
    few = written(tmp_path / "few.csv", Lives.of([5, 8, 9], [5, 8, math.inf]))
    assert ("unknown", None) == tuple(answer(few)["weibull"][key] for key in ("goodness", "goodness_chance"))


def test_published_modes(tmp_path: Path) -> None:
    """Meeker & Escobar 1998, section 15.4 (device G): one fit a mode, counts of failures and lives."""
    published = case("life", "device-g")
    path = written(tmp_path / FILE, lives_with_causes(published["data"]))
    modes = answer(path)["modes"]
    for mode, expected in published["expected"]["cause_specific_weibull"].items():
        assert (expected["beta"], expected["eta"]) == pytest.approx(
            (modes[mode]["shape"], modes[mode]["scale"]), rel=1e-6
        )
        assert 30 == modes[mode]["lives"]
    assert {"surge": 15, "wearout": 7} == {mode: fit["failures"] for mode, fit in modes.items()}


def test_no_failures_give_a_lower_bound(tmp_path: Path) -> None:
    """No fit: null where nothing is known, a bound where something is, and the reason."""
    path = written(tmp_path / FILE, Lives.of([300] * 10, [math.inf] * 10))
    said = answer(path, "--cost-planned", "1", "--cost-failure", "9", "--age", "100", "--next", "50")
    fit = said["weibull"]
    assert [None] * 4 == [fit[key] for key in ("shape", "scale", "log_likelihood", "life_10")]
    assert fit["life_10_interval"][0] > 0
    assert fit["life_10_interval"][1] is None
    assert ("no failure yet", 0, 10) == (fit["reason"], fit["failures"], fit["lives"])
    assert said["risk"] is None
    assert 0 == said["risk_interval"][0] < said["risk_interval"][1] < 1
    assert (None, None, "unknown") == tuple(said["replacement"][key] for key in ("age", "saving", "gain"))


def test_replacement_and_risk_of_a_fit(tmp_path: Path) -> None:
    """Both follow from the fitted law, with intervals around them."""
    said = answer(
        written(tmp_path / FILE, lives_of(case("life", "shock-absorber")["data"])),
        *("--cost-planned", "1", "--cost-failure", "10", "--age", "20000", "--next", "2000"),
    )
    plan = said["replacement"]
    assert pytest.approx(0.1177718, rel=1e-4) == said["risk"]
    assert said["risk_interval"][0] < said["risk"] < said["risk_interval"][1]
    assert plan["saving_interval"][0] < plan["saving"] < plan["saving_interval"][1]
    assert plan["cost_per_hole"] < plan["cost_per_hole_run_to_failure"]
    assert 0 < plan["age"] < said["weibull"]["scale"]


def test_a_given_law() -> None:
    """Barlow & Hunter 1960 by numbers: no file needed."""
    known = case("replacement", "age-replacement-published")["expected"]
    said = answer("--shape", "2.5", "--scale", "1000", "--cost-planned", "1", "--cost-failure", "5")
    plan = said["replacement"]
    assert known["optimal_age"] == pytest.approx(plan["age"], rel=1e-6)
    assert known["min_cost_rate"] == pytest.approx(plan["cost_per_hole"], rel=1e-6)
    assert known["run_to_failure_rate"] == pytest.approx(plan["cost_per_hole_run_to_failure"], rel=1e-6)
    assert (2.5, 1000) == (said["weibull"]["shape"], said["weibull"]["scale"])


def test_a_given_law_without_gain() -> None:
    """Constant hazard: age null, both costs alike, and the reason."""
    plan = answer("--shape", "1", "--scale", "800", "--cost-planned", "1", "--cost-failure", "10")["replacement"]
    assert (None, 0.0125, 0.0125) == (plan["age"], plan["cost_per_hole"], plan["cost_per_hole_run_to_failure"])
    assert "Nothing to gain" in plan["reason"]


@pytest.mark.parametrize("known", case("replacement", "conditional-break-risk")["expected"])
def test_risk_of_a_given_law(known: dict[str, float]) -> None:
    """Failure in the next holes, given survival so far."""
    law = ["--shape", str(known["beta"]), "--scale", str(known["eta"])]
    said = answer(*law, "--age", str(known["age"]), "--next", str(known["batch"]))
    assert known["prob_break"] == pytest.approx(said["risk"], rel=1e-6)


def test_for_people(tmp_path: Path) -> None:
    """Without --json: a short report with evidence and intervals."""
    path = written(tmp_path / FILE, lives_with_causes(case("life", "device-g")["data"]))
    result = life(path, "--cost-planned", "1", "--cost-failure", "5", "--age", "100", "--next", "50")
    assert 0 == result.exit_code
    for words in ("30 taps, 22 failures", "Mode 'surge'", "90 % interval", "Change in time", "Risk in the next holes"):
        assert words in result.stdout


def test_for_people_without_a_fit(tmp_path: Path) -> None:
    """The bound and what would be enough."""
    result = life(written(tmp_path / FILE, Lives.of([300], [math.inf])), "--age", "5", "--next", "5")
    assert "evidence: 1 tap, 0 failures, 300 holes" in result.stdout
    assert "no fit: no failure yet" in result.stdout
    assert "at least" in result.stdout


LAW = ["--shape", "2", "--scale", "100"]


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["--shape", "2"],
        ["--scale", "2"],
        ["missing.csv"],
        ["."],
        ["missing.csv", *LAW],
        [*LAW, "--cost-planned", "1"],
        [*LAW, "--cost-failure", "1"],
        [*LAW, "--age", "1"],
        [*LAW, "--next", "1"],
        [*LAW, "--age", "-1", "--next", "1"],
        [*LAW, "--age", "1", "--next", "nan"],
        [*LAW, "--cost-planned", "-1", "--cost-failure", "1"],
        [*LAW, "--cost-planned", "1", "--cost-failure", "inf"],
        ["--shape", "0", "--scale", "1"],
        ["--shape", "1,5", "--scale", "1"],
        ["--shape", "1", "--scale", "1_000"],
        ["--unknown"],
    ],
)
def test_bad_usage_is_exit_2(arguments: list[str]) -> None:
    """A message on standard error, nothing on standard output, no traceback."""
    result = life(*arguments, "--json")
    assert (2, "") == (result.exit_code, result.stdout)
    assert "Error: " in result.stderr


@pytest.mark.parametrize("option", [["--level", "1"], ["--level", "0"], ["--level", "x"], ["--interval", "wald"]])
def test_bad_intervals_are_exit_2(tmp_path: Path, option: list[str]) -> None:
    """The level lies between 0 and 1, and the method exists."""
    result = life(written(tmp_path / FILE, Lives.of([1, 2], [1, 2])), *option, "--json")
    assert (2, "") == (result.exit_code, result.stdout)


def test_many_bad_rows_are_cut_short(tmp_path: Path) -> None:
    """The first twenty, and how many more."""
    path = tmp_path / FILE
    path.write_text("lower,upper\n" + "x,1\n" * 50)
    result = life(path)
    assert 2 == result.exit_code
    assert "row 2, lower" in result.stderr
    assert "30 more" in result.stderr
    assert "row 40" not in result.stderr


def test_as_a_program(tmp_path: Path) -> None:
    """From a shell, warnings being errors: JSON out for a good file, exit 2 and no traceback for a bad one."""
    good = written(tmp_path / FILE, lives_of(case("life", "abernethy-c5")["data"]))
    bad = tmp_path / "bad.csv"
    bad.write_text("lower,upper\n5,4\n")
    python = [sys.executable, "-W", "error", "-m", "shopfloor", "life"]
    done, refused = (subprocess.run([*python, path, "--json"], capture_output=True, text=True) for path in (good, bad))
    assert 0 == done.returncode, done.stderr
    assert pytest.approx(2.257, rel=1e-3) == json.loads(done.stdout)["weibull"]["shape_mle"]
    assert (2, "") == (refused.returncode, refused.stdout)
    assert "Error: row 2, upper: below lower; give an age from lower on, or leave it empty" in refused.stderr
    assert "Traceback" not in refused.stderr
