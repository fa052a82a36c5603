"""What may lie in the repository, and what must be said where."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
import subprocess
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

import shopfloor
import shopfloor.core

ROOT = Path(__file__).resolve().parents[2]
TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "shopfloor", "migrations", "tests", "seed", "deploy"}
FOREIGN = re.compile(r"\.(woff2?|ttf|otf|eot)$|[.-]min\.(js|css)$|(^|/)(node_modules|vendor|third[_-]party)/", re.I)
MACHINE_PATH = re.compile(r"(^|[^a-zA-Z0-9._-])/(work|farm)/", re.M)
FORBIDDEN_WAIT = ".wait_for_" + "function("
OUT_OF_TESTS = re.compile(r"^ *(?:from|import) tests\.(?:\w+\.)*test_\w+.*", re.M)
LARGEST_TEXT = 1_000_000
LOCKS = ["requirements.txt", "requirements-test.txt"]


@pytest.fixture(scope="module")
def tracked() -> list[str]:
    """The files of the repository."""
    try:
        done = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, encoding="utf-8", check=True)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("not a git checkout")
    return [name for name in done.stdout.split("\0") if name and (ROOT / name).exists()]


def text_of(name: str) -> str:
    """A file as text; nothing for a picture."""
    content = (ROOT / name).read_bytes()
    return "" if b"\0" in content else content.decode("utf-8")


def test_the_top_level_holds_only_what_a_newcomer_expects(tracked: list[str]) -> None:
    """Papers, settings and the six folders; whatever else is a dotfile."""
    top = {name.partition("/")[0] for name in tracked}
    assert set() == {name for name in top if not name.startswith(".")} - TOP


def test_no_foreign_file_is_committed(tracked: list[str]) -> None:
    """Fonts and other people's scripts come with packages, never with the repository."""
    assert [] == [name for name in tracked if FOREIGN.search(name)]


def test_no_text_is_as_large_as_a_bundle(tracked: list[str]) -> None:
    """A text of a megabyte was not written by hand (the lock files are not, and are smaller)."""
    assert [] == [name for name in tracked if len(text_of(name)) > LARGEST_TEXT]


def test_no_file_names_a_folder_of_one_machine(tracked: list[str]) -> None:
    """The repository works wherever it is cloned."""
    assert [] == [name for name in tracked if MACHINE_PATH.search(text_of(name))]


def test_no_browser_test_waits_in_a_way_that_the_pages_forbid(tracked: list[str]) -> None:
    """That way passes while nothing need be waited for, and fails on a slow machine; `until` of reading.py is ours."""
    assert [] == [name for name in tracked if name.startswith("tests/") and FORBIDDEN_WAIT in text_of(name)]


def test_no_module_takes_anything_out_of_a_module_of_tests(tracked: list[str]) -> None:
    """What several tests need lies in a module whose name says what is in it, so that tests can be moved freely."""
    modules = [name for name in tracked if name.startswith("tests/") and name.endswith(".py")]
    assert [] == [f"{name}: {taken}" for name in modules for taken in OUT_OF_TESTS.findall(text_of(name))]


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_pins_every_package_by_hash_and_names_no_source(lock: str) -> None:
    """What was tested is what is installed, from whatever source a machine uses."""
    packages = re.split(r"\n(?=\S)", (ROOT / "deploy" / lock).read_text(encoding="utf-8").strip())
    assert len(packages) > 20
    assert [] == [package for package in packages if not re.match(r"[\w.-]+==\S+.*\\\n +--hash=sha256:", package)]
    assert [] == [package for package in packages if "//" in package or "index-url" in package]


def test_both_locks_name_the_same_versions() -> None:
    """The demo runs on the versions that the tests ran on."""
    runtime, test = ((ROOT / "deploy" / lock).read_text(encoding="utf-8").split("\n") for lock in LOCKS)
    assert set() == {line for line in runtime if "==" in line} - {line for line in test if "==" in line}


def test_the_newest_changes_are_those_of_this_version() -> None:
    """What is new in a version is told in that version; what is not released yet stands above it."""
    changes = (ROOT / "shopfloor" / "changes.md").read_text(encoding="utf-8")
    newest = re.search(r"^## (\d+\.\d+\.\d+) - \d", changes, re.M)
    assert newest is not None
    assert shopfloor.__version__ == newest[1]


def test_everything_public_in_the_core_says_what_it_answers() -> None:
    """Each module, class, function, method and property of the core has a docstring."""
    names = [module.name for module in pkgutil.walk_packages(shopfloor.core.__path__, "shopfloor.core.")]
    assert [] == [missing for name in ["shopfloor.core", *names] for missing in undocumented(name)]


def undocumented(module_name: str) -> Iterator[str]:
    """The public names of a module that lack a docstring."""
    module = importlib.import_module(module_name)
    for path, value in [(module_name, module), *public(module_name, vars(module), module_name)]:
        text = getattr(value, "__doc__", None) or ""
        if not text.strip() or text.startswith(f"{path.rpartition('.')[2]}("):  # what a dataclass writes by itself
            yield path


def public(path: str, names: Mapping[str, object], module_name: str) -> Iterator[tuple[str, object]]:
    """The public functions and classes that are defined here, and what is public in those classes."""
    for key, value in names.items():
        bare = getattr(value, "fget", None) or getattr(value, "__func__", value)
        if key.startswith("_") or getattr(bare, "__module__", None) != module_name:
            continue
        if inspect.isclass(bare):
            yield from [(f"{path}.{key}", bare), *public(f"{path}.{key}", vars(bare), module_name)]
        elif inspect.isroutine(bare):
            yield f"{path}.{key}", bare
