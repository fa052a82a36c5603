"""README and the contributor's guide say what the code does."""

from __future__ import annotations

import ast
import inspect
import pkgutil
import re
from contextlib import closing
from dataclasses import fields
from pathlib import Path

import pytest

from shopfloor.cli import _COMMANDS
from shopfloor.services.record.work import Work
from shopfloor.services.runs.csv_import import import_runs
from shopfloor.settings import LANGUAGES, PREFIX, Settings
from shopfloor.store import Base
from shopfloor.web.help.pages import CHAPTERS
from shopfloor.web.security.roles import NEEDS
from tests.house.catalogue import PACKAGE

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
MOST_LINES, LONGEST_LINE = 200, 200


@pytest.mark.parametrize("name", [field.name for field in fields(Settings)])
def test_every_setting_is_documented(name: str) -> None:
    """The guide's table has each variable."""
    assert f"`{PREFIX}{name.upper()}`" in GUIDE


@pytest.mark.parametrize("command", _COMMANDS)
def test_every_command_is_documented(command: str) -> None:
    """The guide lists each command."""
    assert f"`{command}" in GUIDE


def test_the_guide_is_read_in_one_sitting() -> None:
    """Reasons belong to the modules that they shaped, figures to the benchmarks."""
    lines = GUIDE.splitlines()
    assert (True, []) == (len(lines) <= MOST_LINES, [line for line in lines if len(line) > LONGEST_LINE])


def test_the_guide_names_what_is_there() -> None:
    """Each file and folder that it sets as code."""
    named = re.findall(r"`([a-z_0-9./-]+\.(?:py|js|md)|[a-z_0-9./-]+/[a-z_0-9-]+)`", GUIDE)
    assert [] == [name for name in named if not (ROOT / name).exists() and not list(PACKAGE.rglob(name))]


def test_the_guide_names_functions_by_where_they_are() -> None:
    """Each dotted name leads to a module, or to what is in one."""
    named = re.findall(r"`((?:core|services|store|web)\.[a-z_.]+)`", GUIDE)
    assert [] == [name for name in named if not is_there(f"shopfloor.{name}")]


def is_there(name: str) -> bool:
    """Whether the name can be resolved, importing what it takes."""
    try:
        pkgutil.resolve_name(name)
    except (ImportError, AttributeError):
        return False
    return True


def test_each_benchmark_is_described() -> None:
    """What it measures and how it is run stand in the folder's README."""
    described = (ROOT / "tests" / "bench" / "README.md").read_text(encoding="utf-8")
    benchmarks = [path.stem for path in (ROOT / "tests" / "bench").glob("bench_*.py")]
    lacking = [name for name in benchmarks if f"\n`python -m tests.bench.{name}" not in described]
    assert (True, []) == (len(benchmarks) > 0, lacking)


@pytest.fixture(scope="module")
def glossary() -> list[list[str]]:
    """Its rows: concept, trade word, class, table, page."""
    section = GUIDE.split("## Glossary\n")[1].split("\n## ")[0]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in section.splitlines() if line[:1] == "|"]
    return rows[2:]


def test_the_glossary_is_short_and_whole(glossary: list[list[str]]) -> None:
    """Thirty concepts, each with a word and all columns filled in."""
    assert (30, []) == (len(glossary), [row for row in glossary if len(row) != 5 or not all(row)])


def test_each_class_of_the_glossary_exists(glossary: list[list[str]]) -> None:
    """By the name that it has in the code."""
    trees = (ast.parse(path.read_text(encoding="utf-8")) for path in PACKAGE.rglob("*.py"))
    classes = {node.name for tree in trees for node in ast.walk(tree) if isinstance(node, ast.ClassDef)}
    assert set() == code_in(glossary, 2) - classes


def test_each_table_of_the_glossary_exists(glossary: list[list[str]]) -> None:
    """The table, or a column of it."""
    tables = Base.metadata.tables.values()
    columns = {f"{table.name}.{column.name}" for table in tables for column in table.columns}
    assert set() == code_in(glossary, 3) - columns - {table.name for table in tables}


def test_each_page_of_the_glossary_exists(glossary: list[list[str]]) -> None:
    """An endpoint that somebody has the right to use."""
    assert set() == code_in(glossary, 4) - set(NEEDS)


def code_in(rows: list[list[str]], column: int) -> set[str]:
    """What the column sets as code; nothing else may stand there but 'none'."""
    cells = [row[column] for row in rows if row[column] != "none"]
    assert [] == [cell for cell in cells if not re.fullmatch(r"`[\w.]+`(, `[\w.]+`)*", cell)]
    return set(re.findall(r"`([\w.]+)`", " ".join(cells)))


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


def test_the_handbook_gives_the_commands_of_readme_for_backups() -> None:
    """The same lines, which another test runs."""
    section = README.split("## Backup\n")[1].split("\n## ")[0]
    lines = [line for block in re.findall(r"```\n(.*?)```", section, re.DOTALL) for line in block.splitlines()]
    page = (PACKAGE / "web" / "templates" / "help" / "backup.html").read_text(encoding="utf-8")
    assert ["shopfloor backup monday.backup", "shopfloor restore monday.backup"] == lines
    assert [] == [line for line in lines if line not in page]


def test_pictures_and_links_are_there() -> None:
    """README points at nothing that is missing."""
    for target in README.split("](")[1:]:
        name = target.split(")")[0]
        assert (ROOT / name).exists() or name.startswith("http"), name
