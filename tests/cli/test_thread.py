"""`shopfloor thread`."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.cli import main
from shopfloor.core.threads.text import standard_threads

AT_LEAST = {"major_mm", "pitch_mm", "minor_mm", "pitch_diameter_mm", "stress_area_mm2", "tap_drill_mm",
            "tap_drill_name", "thread_percent", "major_in", "tpi", "limits", "drills"}  # fmt: skip


def run(*arguments: str) -> Result:
    """The command with these arguments."""
    return CliRunner().invoke(main, ("thread", *arguments), catch_exceptions=False)


def asked(*arguments: str) -> dict[str, Any]:
    """The JSON object that it prints."""
    result = run(*arguments, "--json")
    assert (0, "") == (result.exit_code, result.stderr)
    answer: dict[str, Any] = json.loads(result.stdout)
    return answer


def numbers_in(answer: Any) -> list[float]:
    """Every number of an answer, however deep."""
    if isinstance(answer, dict | list):
        return [n for part in (answer.values() if isinstance(answer, dict) else answer) for n in numbers_in(part)]
    return [answer] if isinstance(answer, int | float) else []


def test_three_eighths() -> None:
    """3/8-16: the handbook's 5/16 drill, 77 %; area 0.0775 in2 (ASME B1.1, from memory)."""
    answer = asked("3/8-16")
    assert set() == AT_LEAST - set(answer)
    assert ("5/16", 7.9375, 9.525, 16) == tuple(
        answer[k] for k in ("tap_drill_name", "tap_drill_mm", "major_mm", "tpi")
    )
    assert (76.98, 0.0775) == pytest.approx((answer["thread_percent"], answer["stress_area_in2"]), abs=5e-3)
    assert ["2B", "3B"] == list(answer["limits"])
    assert {"name", "mm", "inch", "percent"} <= set(answer["drills"][0])


def test_every_number_is_finite_or_null() -> None:
    """For one thread of each series."""
    for thread in {thread.series: thread for thread in standard_threads()}.values():
        assert all(math.isfinite(number) for number in numbers_in(asked(thread.text)))


def test_what_is_asked_is_answered() -> None:
    """One class alone; the wanted percentage; a forming tap's larger hole; the lengths of a taper thread."""
    assert ["6H"] == list(asked("M8", "--class", "6h")["limits"])
    assert asked("1/4-20", "--percent", "65")["thread_percent"] < 70
    assert ("5.55 mm", True) == tuple(asked("M6", "--forming")[k] for k in ("tap_drill_name", "forming"))
    taper = asked("1/8-27 NPT")
    assert 0.37360 == pytest.approx(taper["taper"]["e1_mm"] / 25.4, abs=1e-5)
    assert taper["stress_area_mm2"] is None


@pytest.mark.parametrize("typed", ["3/8-16", "M8x1-6H", "1/8-27 NPT", "G 3"])
def test_the_table_for_people(typed: str) -> None:
    """Both units and the drills, or that the hole is bored."""
    result = run(typed)
    assert (0, True) == (result.exit_code, "major diameter" in result.stdout)
    assert "rill" in result.stdout


@pytest.mark.parametrize(
    ("arguments", "right"),
    [(("3/8-17",), "3/8-16 UNC or 3/8-24 UNF"), (("M8x9",), "M8, M8x1 or M8x0.75"), (("half inch",), "1/2-13 UNC"),
     (("",), "write it like"), (("M8", "--class", "2B"), "5H, 6H or 7H"), (("M8", "--percent", "120"), "up to 100"),
     (("M8", "--percent", "nan"), "is not a number"), (("1/8 NPT", "--forming"), "usual drill")],
)  # fmt: skip
def test_bad_use(arguments: tuple[str, ...], right: str) -> None:
    """Standard error, exit code 2, and what would be right."""
    result = run(*arguments, "--json")
    assert (2, "") == (result.exit_code, result.stdout)
    assert right in result.stderr


@given(st.text(max_size=30).filter(lambda text: not text.startswith("-")))
def test_any_text(text: str) -> None:
    """An answer or exit code 2, never a traceback."""
    assert run(text).exit_code in (0, 2)


def test_help_documents_each_key() -> None:
    """Every key of the object stands in --help."""
    text = run("--help").output
    for key in {**asked("3/8-16"), **asked("1/8 NPT")}:
        assert key in text
