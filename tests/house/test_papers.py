"""README and the contributor's guide say what the code does."""

from __future__ import annotations

import json
import re
from dataclasses import fields
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from shopfloor.cli import _COMMANDS, main
from shopfloor.core.input.run_entry import FROM_A_TABLET, EntryLimits, read_run
from shopfloor.services.runs.csv_columns import COLUMNS
from shopfloor.settings import PREFIX, Settings
from shopfloor.web.sync.views import FIELDS

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

SET_UP = ["setup --thread 3/8-16 --material steel --rpm 300 --depth 16 --hole blind"]


@pytest.mark.parametrize("heading", [names[0] for names in COLUMNS.values()])
def test_every_column_of_an_import_is_documented(heading: str) -> None:
    """A newcomer finds each heading in README."""
    assert f"| {heading} |" in README or f"`{heading}`" in README


@pytest.mark.parametrize("name", [field.name for field in fields(Settings)])
def test_every_setting_is_documented(name: str) -> None:
    """The guide's table has each variable."""
    assert f"`{PREFIX}{name.upper()}`" in GUIDE


@pytest.mark.parametrize("command", _COMMANDS)
def test_every_command_is_documented(command: str) -> None:
    """The guide lists each command."""
    assert f"`{command}" in GUIDE


def door_of_programs() -> str:
    """README's section on runs as JSON."""
    return README.split("## Runs from another program")[1].split("\n## ")[0]


def named(line: str) -> set[str]:
    """The words that a line sets as code."""
    return set(re.findall(r"`([a-z_]+)`", line))


def test_the_fields_of_json_are_documented() -> None:
    """Those that must be there and those that may, neither more nor fewer than the code reads."""
    always, known = (line for line in door_of_programs().splitlines() if line.startswith("- "))
    assert FROM_A_TABLET == named(always)
    assert FIELDS - FROM_A_TABLET == named(known)


def test_the_example_in_json_is_a_run() -> None:
    """What README sends is read without a complaint."""
    sent = json.loads(re.findall(r"-d '(\{.*?\})'", door_of_programs(), re.DOTALL)[0])
    limits = EntryLimits(datetime(2026, 4, 1, tzinfo=UTC), UTC, 5000, FROM_A_TABLET)
    assert (48, "T0001") == (read_run(sent, limits).holes, read_run(sent, limits).tap)


@pytest.mark.parametrize("command", ["thread 3/8-16", "thread 1/8-27-NPT", *SET_UP])
def test_every_key_of_a_json_answer_is_documented(command: str) -> None:
    """A program's author finds each key of `thread` and `setup` in README; inches go by their millimetres."""
    answer = json.loads(CliRunner().invoke(main, [*command.split(), "--json"]).stdout)
    keys = {key.removesuffix("_in").removesuffix("_in2") for key in answer}
    assert set() == {key for key in keys if not re.search(rf"`{key}(_mm2?)?`", README)}


def test_pictures_and_links_are_there() -> None:
    """README points at nothing that is missing."""
    for target in README.split("](")[1:]:
        name = target.split(")")[0]
        assert (ROOT / name).exists() or name.startswith("http"), name
