"""README and the contributor's guide say what the code does."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import pytest

from shopfloor.cli import _COMMANDS
from shopfloor.services.exchange import COLUMNS
from shopfloor.settings import PREFIX, Settings

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


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


def test_pictures_and_links_are_there() -> None:
    """README points at nothing that is missing."""
    for target in README.split("](")[1:]:
        name = target.split(")")[0]
        assert (ROOT / name).exists() or name.startswith("http"), name
