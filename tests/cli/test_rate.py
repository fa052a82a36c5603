from __future__ import annotations

import json

import pytest
from click.testing import CliRunner, Result

from shopfloor.cli import main


def rate(*arguments: str) -> Result:
    """What the command says."""
    return CliRunner().invoke(main, ["rate", *arguments])


def test_exact_interval() -> None:
    """R packages DescTools and exactci: 15 in 400 at 95 %."""
    said = json.loads(rate("15", "400", "--level", "0.95", "--json").stdout)
    assert pytest.approx([20.9884653319583, 61.8505471787146]) == said["interval"]
    assert (37.5, 15, 400, 0.95) == tuple(said[key] for key in ("per_1000", "events", "holes", "level"))


def test_no_events() -> None:
    """Lower end 0, upper end above."""
    said = json.loads(rate("0", "400", "--json").stdout)
    assert (0, 0) == (said["per_1000"], said["interval"][0])
    assert pytest.approx(2.995732 / 0.4, rel=1e-6) == said["interval"][1]


def test_for_people() -> None:
    """Without --json: rate, interval, evidence."""
    said = rate("15", "400").stdout
    assert "37.5 per 1,000 holes (90 % interval: 23.12 to 57.74)" in said
    assert "15 events in 400 holes" in said


@pytest.mark.parametrize(
    "arguments",
    [
        ["-1", "400"],
        ["1.5", "400"],
        ["nan", "400"],
        ["1", "0"],
        ["1", "-5"],
        ["1", "inf"],
        ["1"],
        [],
        ["1", "2", "3"],
        ["one", "2"],
        ["1", "2", "--level", "1"],
        ["1", "2", "--level", "95"],
        ["1", "2", "--colour"],
    ],
)
def test_bad_usage_is_exit_2(arguments: list[str]) -> None:
    """A message on standard error, nothing on standard output."""
    result = rate(*arguments)
    assert (2, "") == (result.exit_code, result.stdout)
    assert "Error" in result.stderr
