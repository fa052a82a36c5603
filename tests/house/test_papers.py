"""README and the contributor's guide say what the code does."""

from __future__ import annotations

import inspect
import re
from contextlib import closing
from dataclasses import fields
from pathlib import Path

import pytest

from shopfloor.cli import _COMMANDS
from shopfloor.services.record.work import Work
from shopfloor.services.runs.csv_import import import_runs
from shopfloor.settings import LANGUAGES, PREFIX, Settings
from shopfloor.web.help.pages import CHAPTERS
from tests.house.catalogue import PACKAGE

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", [field.name for field in fields(Settings)])
def test_every_setting_is_documented(name: str) -> None:
    """The guide's table has each variable."""
    assert f"`{PREFIX}{name.upper()}`" in GUIDE


@pytest.mark.parametrize("command", _COMMANDS)
def test_every_command_is_documented(command: str) -> None:
    """The guide lists each command."""
    assert f"`{command}" in GUIDE


def example_of(paper: str) -> str:
    """The paper's file of runs."""
    return inspect.cleandoc("\n" + re.findall(r"```\n( *when,tap.*?)```", paper, re.DOTALL)[0])


def test_readme_is_read_in_one_sitting() -> None:
    """The rest is the handbook's."""
    assert 80 <= len(README.splitlines()) <= 110


def test_readme_names_the_languages_that_pages_speak() -> None:
    """Neither more nor fewer than there are."""
    told = re.findall(r"Pages and handbook speak (.+?), as each", README)
    assert [" and ".join(LANGUAGES.values())] == told


def test_readme_names_each_chapter_of_the_handbook() -> None:
    """Where to read on, by the titles that stand under Help."""
    assert [chapter.title for chapter in CHAPTERS] == re.findall(r"^\| .* \| \*(.+)\* \|$", README, re.M)


def test_the_file_of_runs_in_readme_can_be_imported(sqlite_url: str, tmp_path: Path) -> None:
    """The newcomer's first file: every row is stored."""
    path = tmp_path / "log.csv"
    path.write_text(example_of(README), encoding="utf-8")
    with closing(Work.on(Settings(database=sqlite_url, data_folder=tmp_path))) as work:
        assert 2 == import_runs(work, path).stored


def test_the_handbook_gives_the_lines_of_readme_that_copy_a_shop() -> None:
    """The same lines, which another test runs."""
    section = README.split("## Backup\n")[1].split("\n## ")[0]
    lines = [line for block in re.findall(r"```\n(.*?)```", section, re.DOTALL) for line in block.splitlines()]
    page = (PACKAGE / "web" / "templates" / "help" / "backup.html").read_text(encoding="utf-8")
    assert (5, []) == (len(lines), [line for line in lines if line not in page])


def test_pictures_and_links_are_there() -> None:
    """README points at nothing that is missing."""
    for target in README.split("](")[1:]:
        name = target.split(")")[0]
        assert (ROOT / name).exists() or name.startswith("http"), name
