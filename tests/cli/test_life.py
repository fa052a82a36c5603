from __future__ import annotations

import json
import math
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shopfloor.cli import main
from shopfloor.core.decision.failure_probability import chance_of_any
from shopfloor.core.decision.replacement_age import Costs, best_policy
from shopfloor.core.hierarchical.model.conditions import Condition
from shopfloor.core.life_table.groups import group_posteriors
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.vocabulary import LifeMeasure
from shopfloor.services.record.work import Work
from shopfloor.services.shop import count_life_in
from shopfloor.settings import Settings
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
    """By profile likelihood right-censored, interval, mixed and part-used lives come out as published."""
    published = case("life", name)
    path = written(tmp_path / FILE, lives_of(published["data"]))
    fit = answer(path, "--level", "0.95", "--interval", "profile")["weibull"]
    expected = published["expected"]
    for key, known in (("shape", "beta"), ("scale", "eta"), ("log_likelihood", "loglik"), ("life_10", "b10")):
        assert expected[known] == pytest.approx(fit[key], rel=1e-6)
    for key, known in (("shape", "beta"), ("scale", "eta"), ("life_10", "b10")):
        assert expected[f"{known}_ci95_lr"] == pytest.approx(fit[f"{key}_interval"], rel=1e-6)
    assert (0.95, "profile") == (fit["level"], fit["method"])


@pytest.mark.parametrize("name", ["nist-8.4.1.2", "part-cracking", "mixed-log-1", "macs-aids"])
def test_calibrated_holds_with_few_failures(tmp_path: Path, name: str) -> None:
    """Unless told otherwise: a flatter shape within its interval; the published most likely law stands beside it."""
    published = case("life", name)
    path = written(tmp_path / FILE, lives_of(published["data"]))
    fit = answer(path)["weibull"]
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
    assert "Weibull distribution: does not fit" in life(path).stdout
    few = written(tmp_path / "few.csv", Lives.of([5, 8, 9], [5, 8, math.inf]))
    assert ("unknown", None) == tuple(answer(few)["weibull"][key] for key in ("goodness", "goodness_chance"))


def test_published_modes(tmp_path: Path) -> None:
    """Meeker & Escobar 1998, section 15.4 (device G): one fit a mode, counts of failures and lives."""
    published = case("life", "device-g")
    path = written(tmp_path / FILE, lives_with_causes(published["data"]))
    modes = answer(path)["modes"]
    for mode, expected in published["expected"]["cause_specific_weibull"].items():
        assert (expected["beta"], expected["eta"]) == pytest.approx(
            (modes[mode]["shape_mle"], modes[mode]["scale_mle"]), rel=1e-6
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


ASKED = ("--cost-planned", "1", "--cost-failure", "10", "--age", "200", "--next", "50")


def test_change_and_risk_are_those_of_the_pages(tmp_path: Path) -> None:
    """Both come from the posterior that the pages use, with intervals and with what they lean on."""
    ages = [300, 340, 380, 410, 430, 470, 500]
    lives = Lives.of([*ages, 200], [*ages, math.inf])
    said = answer(written(tmp_path / FILE, lives), *ASKED)
    (group,) = group_posteriors(lives, [Condition("", "")], np.zeros(8, np.int64))
    change = best_policy(group.draws, Costs(1.0, (10.0,)), 0.9, group.experience)
    risk = chance_of_any(group.draws, (200.0,), 50, 0.9)
    plan = said["replacement"]
    assert [change.age, change.saving, change.gain] == [plan[key] for key in ("age", "saving", "gain")]
    assert [list(change.saving_interval), list(change.flat or ())] == [plan["saving_interval"], plan["flat"]]
    assert [risk.value, [risk.lower, risk.upper]] == [said["risk"], said["risk_interval"]]
    assert plan["cost_per_hole"] < plan["cost_per_hole_run_to_failure"]
    assert group.shrinkage == said["leaning"] < 0.1


GROUPED = """tap_type,material,iso_group,speed,lower,upper,mode
M8,St 37,P,10,300,300,break
M8,St 37,P,10,420,420,break
M8,St 37,P,10,380,400,wear
M8,St 37,P,10,250,,
M8,V2A,M,6,150,150,break
M8,V2A,M,6,100,,
M8,AlMg3,N,,600,,
"""


def test_groups_of_one_table_lean_on_each_other(tmp_path: Path) -> None:
    """Each group has its change and risk; the fewer its own failures, the more it leans on like taps, and says so."""
    path = tmp_path / FILE
    path.write_text(GROUPED, encoding="utf-8")
    said = answer(path, *ASKED)
    groups = said["groups"]
    assert [("St 37", 3, 4), ("V2A", 1, 2), ("AlMg3", 0, 1)] == [
        (group["material"], group["failures"], group["lives"]) for group in groups
    ]
    assert ("M8", "P", 10.0, None) == (
        *(groups[0][key] for key in ("tap_type", "iso_group", "speed")), groups[2]["speed"]
    )  # fmt: skip
    leaning = [group["leaning"] for group in groups]
    assert sorted(leaning) == leaning
    assert all(0 < group["risk_interval"][0] < group["risk"] < group["risk_interval"][1] for group in groups)
    assert "replacement" not in said
    told = life(path, *ASKED).stdout
    assert "Group M8, V2A, ISO M, 6 m/min\n  evidence: 2 taps, 1 failure, 250 holes\n" in told
    assert f"based on these taps, {leaning[1]:.0%} from like taps" in told


def test_fewer_than_three_failures_promise_nothing(tmp_path: Path) -> None:
    """As on the pages: no saving is claimed or denied; for the risk a bound from the lives themselves."""
    ages = [390, 410]
    said = answer(written(tmp_path / FILE, Lives.of([*ages, 100], [*ages, math.inf])), *ASKED)
    assert ("unknown", None) == (said["replacement"]["gain"], said["replacement"]["age"])
    assert said["replacement"]["reason"].startswith("Too few failures in the log (2)")
    assert (None, None) == (said["risk"], said["leaning"])
    assert 0 <= said["risk_interval"][0] < said["risk_interval"][1] <= 1


@pytest.mark.parametrize("cost", ["0", "-1"])
def test_costs_of_a_table_are_checked(tmp_path: Path, cost: str) -> None:
    """By name, before anything is worked out; however few the failures are."""
    result = life(written(tmp_path / FILE, Lives.of([5], [math.inf])), "--cost-planned", "1", "--cost-failure", cost)
    assert 2 == result.exit_code
    assert "cost failure" in result.stderr


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
    for words in (
        "30 taps, 22 failures",
        "Mode 'surge'",
        "90 % interval",
        "Change in time",
        "Risk in the next holes",
        "% from what is usual of taps",
    ):
        assert words in result.stdout


def test_for_people_without_a_fit(tmp_path: Path) -> None:
    """The bound and what would be enough."""
    result = life(written(tmp_path / FILE, Lives.of([300], [math.inf])), "--age", "5", "--next", "5")
    assert "evidence: 1 tap, 0 failures, 300 holes" in result.stdout
    assert "no fit: no failure yet" in result.stdout
    assert "at least" in result.stdout


MADE = 12.0
"""mm: depth of thread of every hole."""


def deep(path: Path, depths: Sequence[float | str]) -> Path:
    """Lives of M8 taps that broke at 300, 320, ... holes, each of holes of one depth in mm."""
    rows = [f"M8,{300 + 20 * i},{300 + 20 * i},break,{depth}" for i, depth in enumerate(depths)]
    path.write_text("\n".join(["tap_type,lower,upper,mode,depth", *rows]), encoding="utf-8")
    return path


def test_length_of_thread_is_holes_times_depth(tmp_path: Path) -> None:
    """Where all holes are alike: shape, risk and saving stay, ages are told in m, and costs by the m."""
    path, metre = deep(tmp_path / FILE, [MADE] * 8), 1000 / MADE
    costs = ("--cost-planned", "1", "--cost-failure", "10")
    holes = answer(path, *costs, "--age", "200", "--next", "50")
    thread = answer(path, *costs, "--age", str(200 / metre), "--next", str(50 / metre), "--measure", "thread")
    assert ("holes", "m") == (holes["unit"], thread["unit"])
    for key in ("shape", "shape_interval", "failures", "holes"):
        assert holes["weibull"][key] == pytest.approx(thread["weibull"][key], rel=1e-6)
    for key in ("scale", "life_10"):
        assert holes["weibull"][key] == pytest.approx(thread["weibull"][key] * metre, rel=1e-6)
    assert sum(range(300, 460, 20)) / metre == pytest.approx(thread["weibull"]["thread_m"])
    assert holes["risk"] == pytest.approx(thread["risk"], rel=1e-6)
    few, many = holes["replacement"], thread["replacement"]
    assert few["age"] == pytest.approx(many["age"] * metre)
    assert few["flat"] == pytest.approx([end * metre for end in many["flat"]])
    assert few["saving"] == pytest.approx(many["saving"])
    assert few["cost_per_hole"] == pytest.approx(many["cost_per_m"] / metre)
    assert "cost_per_hole" not in many


def test_deep_holes_count_for_more(tmp_path: Path) -> None:
    """Half of the taps cut twice as deep: their lives are longer in thread, and those of unknown depth count as usual.

    The usual depth is that of the middle hole: 10 mm.
    """
    fit = answer(deep(tmp_path / FILE, [10, 20, 10, 20, "", 10]), "--measure", "thread")["weibull"]
    length = 300 * 10 + 320 * 20 + 340 * 10 + 360 * 20 + 380 * 10 + 400 * 10
    assert (6, 6, 2100) == (fit["lives"], fit["failures"], fit["holes"])
    assert length / 1000 == pytest.approx(fit["thread_m"])


def test_each_group_has_the_usual_depth_of_its_tap_type(tmp_path: Path) -> None:
    """Ages of M6 taps of 6 mm holes are told by those, whatever M8 taps cut."""
    path = tmp_path / FILE
    rows = [f"M8,{age},{age},break,16\nM6,{age},{age},break,6" for age in (300, 350, 400, 450)]
    path.write_text("\n".join(["tap_type,lower,upper,mode,depth", *rows]), encoding="utf-8")
    costs = ("--cost-planned", "1", "--cost-failure", "10")
    holes = {group["tap_type"]: group["replacement"]["age"] for group in answer(path, *costs)["groups"]}
    found = answer(path, *costs, "--measure", "thread")["groups"]
    thread = {group["tap_type"]: group["replacement"]["age"] for group in found}
    assert {"M8": 0.016, "M6": 0.006} == pytest.approx({name: thread[name] / holes[name] for name in thread})
    assert [1500 * 0.016, 1500 * 0.006] == pytest.approx([group["thread_m"] for group in found])


def test_units_are_told_to_people(tmp_path: Path) -> None:
    """In every line with an age, in either measure; also of a law that is given."""
    path, costs = deep(tmp_path / FILE, [MADE] * 8), ("--cost-planned", "1", "--cost-failure", "10")
    thread = life(path, *costs, "--age", "2", "--next", "1", "--measure", "thread").stdout
    assert "Lives are counted in m of thread" in thread
    assert "8 failures, 2,960 holes, 35.52 m of thread" in thread
    assert re.search(r"scale: [\d.]+ m \(90 % interval", thread)
    assert re.search(r"cheapest age: [\d.]+ m ", thread)
    assert "cost per m when run to failure" in thread
    assert "Risk in the next m\n" in thread
    holes = life(path, *costs).stdout
    assert "Lives are counted in holes" in holes
    assert re.search(r"scale: [\d.]+ holes \(", holes)
    law = life("--shape", "2.5", "--scale", "30", *costs, "--measure", "thread").stdout
    assert "scale: 30 m\n" in law
    assert "cost per m: " in law


@pytest.mark.parametrize("measure", LifeMeasure)
def test_the_shop_decides_unless_told_otherwise(tmp_path: Path, sqlite_url: str, measure: LifeMeasure) -> None:
    """Its record says what it counts in; what is asked for goes before."""
    work = Work.on(Settings(database=sqlite_url, data_folder=tmp_path))
    count_life_in(work, measure)
    work.close()
    path = deep(tmp_path / FILE, [MADE] * 4)
    units = {LifeMeasure.HOLES: "holes", LifeMeasure.THREAD: "m"}
    assert units[measure] == answer(path, "--database", sqlite_url)["unit"]
    assert "holes" == answer(path, "--database", sqlite_url, "--measure", "holes")["unit"]
    assert "m" == answer(path, "--database", sqlite_url, "--measure", "thread")["unit"]


def test_a_depth_is_needed_for_length(tmp_path: Path) -> None:
    """The message names the column, the tap type, and both ways out."""
    path = tmp_path / FILE
    path.write_text("tap_type,lower,upper,depth\nM8,300,300,12\nM6,200,200,\n", encoding="utf-8")
    result = life(path, "--measure", "thread")
    assert (2, "") == (result.exit_code, result.stdout)
    assert "depth: no row of tap type 'M6' tells it; give the depth of thread in mm" in result.stderr
    assert "or count in holes" in result.stderr
    assert 0 == life(path).exit_code


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
        [*LAW, "--measure", "metres"],
        [*LAW, "--database", "sqlite:///missing.db"],
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


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (
            "10,10,9.999999999999998,\n20,20,19.99999999999999,\n30,30,29.99999999999999,",
            "row 2, entry: next to the age",
        ),
        ("100,100,99,1e300\n120,120,,", "row 2, count: more than any shop has; give 1 to 1,000,000,000"),
        ("100,100,50,1000000\n120,120,,", "file: these lives have no best estimate (the posterior of the groups did"),
    ],
)
@pytest.mark.parametrize("asked", [("--cost-planned", "10", "--cost-failure", "100"), ("--age", "9", "--next", "5")])
def test_lives_that_no_law_describes_are_refused_in_words(
    tmp_path: Path, rows: str, told: str, asked: tuple[str, ...]
) -> None:
    """An entry next to the age of failure, counts that no shop has: the row and what to do, never a traceback."""
    file = tmp_path / FILE
    file.write_text(f"lower,upper,entry,count\n{rows}\n", encoding="utf-8")
    result = life(file, *asked)
    assert (2, True) == (result.exit_code, f"Error: {told}" in result.output), result.output


_AGES = st.one_of(st.integers(1, 500), st.floats(1e-3, 1e6))


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(_AGES, st.sampled_from([1.0, 1.0000001, 1.5, math.inf]), st.sampled_from([0, 0.5, 0.9999999999, 1])),
        min_size=1,
        max_size=8,
    ),
    st.sampled_from([(), ("--interval", "profile"), ("--age", "9", "--next", "5")]),
)
def test_any_life_table_is_answered_or_refused_in_words(
    tmp_path: Path, rows: list[tuple[float, float, float]], asked: tuple[str, ...]
) -> None:
    """Entries next to ages, thin intervals, small and large ages: an answer, or what is wrong; warnings are errors."""
    lines = (f"{age!r},{'' if math.isinf(f) else age * f!r},{age * share!r}" for age, f, share in rows)
    file = tmp_path / FILE
    file.write_text("\n".join(("lower,upper,entry", *lines)) + "\n", encoding="utf-8")
    result = life(file, *asked)
    assert isinstance(result.exception, SystemExit | None), result.exception
    assert result.exit_code in (0, 2)
