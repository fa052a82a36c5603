"""Every published case of life data and of replacement is checked by a test that names it, and names its source."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.published.life import FOLDER

FILES = ("life", "replacement")
TESTS = FOLDER.parent


def cases(file: str) -> list[dict[str, str]]:
    """The cases of a file."""
    found: list[dict[str, str]] = json.loads((FOLDER / f"{file}.json").read_text("utf-8"))
    return found


def sources() -> dict[Path, str]:
    """The tests' own text."""
    return {path: path.read_text("utf-8") for path in TESTS.rglob("test_*.py") if path != Path(__file__)}


@pytest.mark.parametrize("file", FILES)
def test_each_case_is_named_by_a_test(file: str) -> None:
    """None is kept that nothing is held against."""
    texts = sources().values()
    assert [] == [case["id"] for case in cases(file) if not any(f'"{case["id"]}"' in text for text in texts)]


@pytest.mark.parametrize("file", FILES)
def test_each_case_has_its_source(file: str) -> None:
    """Who printed it, and whether the figures were read there or worked out; each id stands once."""
    known = cases(file)
    assert all(case["source"] and case["origin"] for case in known)
    assert len({case["id"] for case in known}) == len(known)
