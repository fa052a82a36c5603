"""The scripts keep their layers, and no limit that the server states stands in them a second time."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

import pytest

from shopfloor.web.assets.bundles import STATIC
from shopfloor.web.operator.script_limits import FIXED

SCRIPTS = STATIC / "js"
LAYERS = (
    ("chart.js", "dependent_lists.js", "label_sheet.js", "open_database.js", "operator.js", "page.js", "worker.js"),
    ("station",),
    ("outbox", "scan"),
    ("behaviours", "messages.js", "question.js"),
    ("elements.js", "words.js"),
    ("limits.js",),
)
"""From the entry points down: a module imports from its own folder and from the layers below."""

MOST_FILES = 16
IMPORT = re.compile(r'^import .*?"([^"]+)";$', re.M | re.S)
NO_CODE = re.compile(r"//[^\n]*|/\*.*?\*/|\"[^\"\n]*\"|'[^'\n]*'", re.S)
NUMBER = re.compile(r"(?<![\w.])\d[\d_]*(?:\.\d+)?(?:e\d+)?(?![\w.])")
SMALLEST_TELLING = 12
"""Smaller whole numbers are counts and indices as well."""
DURATION = re.compile(r"^(?:export )?const \w+_MS = [\d_]+;$", re.M)
"""The server states no times in milliseconds."""
STATUS = re.compile(r"status === \d+")
COINCIDENCES = {"ids.js": {20.0}, "risk.js": {0.5, 20.0}}
"""Positions in a UUID; where words for chances change, which `tests/chances_told.py` holds together."""


def part_of(path: Path) -> str:
    """The folder or the file under which a module stands in LAYERS."""
    return path.relative_to(SCRIPTS).parts[0]


def imports() -> Iterator[tuple[Path, Path]]:
    """Each module with one that it imports."""
    for path in sorted(SCRIPTS.rglob("*.js")):
        for address in IMPORT.findall(path.read_text(encoding="utf-8")):
            yield path, (path.parent / address).resolve()


def test_every_script_has_its_layer() -> None:
    """A new folder or entry point fails until somebody says where it belongs."""
    assert set(chain.from_iterable(LAYERS)) == {part_of(path) for path in SCRIPTS.rglob("*.js")}


def test_no_script_imports_from_above_or_from_beside() -> None:
    """The outbox knows nothing of the station page, and the pieces of every page know neither."""
    floor = {part: number for number, layer in enumerate(LAYERS) for part in layer}
    wrong = [
        f"{path.name} imports {needed.name}"
        for path, needed in imports()
        if part_of(path) != part_of(needed) and floor[part_of(path)] >= floor[part_of(needed)]
    ]
    assert [] == wrong


def test_every_import_is_there_and_no_circle() -> None:
    """Walked from each module down to those that need nothing."""
    needs: dict[Path, list[Path]] = {}
    for path, needed in imports():
        needs.setdefault(path, []).append(needed)
    assert all(needed.is_file() for needed in chain.from_iterable(needs.values()))
    done: set[Path] = set()

    def walk(path: Path, around: tuple[Path, ...]) -> None:
        assert path not in around, [each.name for each in (*around, path)]
        for needed in () if path in done else needs.get(path, ()):
            walk(needed, (*around, path))
        done.add(path)

    for path in needs:
        walk(path, ())


def test_no_folder_of_scripts_is_overfull() -> None:
    """One that would hold more is two subjects."""
    counts = {folder: len([*folder.glob("*.js")]) for folder in (SCRIPTS, *SCRIPTS.iterdir()) if folder.is_dir()}
    assert {} == {folder.name: count for folder, count in counts.items() if count > MOST_FILES}


def test_every_script_begins_with_what_it_does() -> None:
    """In a sentence above its first import."""
    assert [] == [path.name for path in SCRIPTS.rglob("*.js") if not path.read_text("utf-8").startswith("// ")]


def numbers(text: str) -> set[float]:
    """The numbers in a script's code; those in texts and comments do not count."""
    return {
        float(found.replace("_", ""))
        for found in NUMBER.findall(STATUS.sub("", DURATION.sub("", NO_CODE.sub(" ", text))))
    }


def telling() -> set[float]:
    """The limits that can be told from an index."""
    values = chain.from_iterable(value if isinstance(value, tuple) else (value,) for value in FIXED.values())
    return {float(one) for one in values if one >= SMALLEST_TELLING or one != int(one)}


def test_no_limit_of_the_server_is_a_literal_in_a_script() -> None:
    """It would be right until somebody changes the one in Python."""
    found = {path.name: numbers(path.read_text(encoding="utf-8")) & telling() for path in SCRIPTS.rglob("*.js")}
    doubled = {name: here - COINCIDENCES.get(name, set()) for name, here in found.items()}
    assert {} == {name: here for name, here in doubled.items() if here}


def test_the_numbers_of_a_script_are_found() -> None:
    """Whatever they stand in, and however they are written."""
    text = "const A = 20_000; // 64\nif (x > 0.25) say('2000', \"64\"); /* 1.06 */ y1 = 1e4 * a2[3];"
    assert {20_000.0, 0.25, 10_000.0, 3.0} == numbers(text)


@pytest.mark.parametrize("name", ["largest_batch", *FIXED])
def test_every_limit_is_handed_over_for_a_script(name: str) -> None:
    """One that no script reads would only cost bytes."""
    assert any(name in path.read_text(encoding="utf-8") for path in SCRIPTS.rglob("*.js"))
