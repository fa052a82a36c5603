"""The commands of the checkout and what they need."""

from __future__ import annotations

import ast
import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

import environment

FOLDER = Path(environment.__file__).parent
SCRIPTS = sorted(FOLDER.glob("*.py"))


def load(name: str) -> ModuleType:
    """One script of the folder as a module, under a name that is not that of a standard module."""
    spec = importlib.util.spec_from_file_location(f"deploy_{name}", FOLDER / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda script: script.name)
def test_a_script_needs_nothing_but_python(script: Path) -> None:
    """A fresh clone has only the standard library."""
    own = {path.stem for path in SCRIPTS}
    imports = [node for node in ast.walk(ast.parse(script.read_text(encoding="utf-8"))) if isinstance(node, ast.Import)]
    froms = [
        node for node in ast.walk(ast.parse(script.read_text(encoding="utf-8"))) if isinstance(node, ast.ImportFrom)
    ]
    names = {alias.name for node in imports for alias in node.names} | {str(node.module) for node in froms}
    assert set() == {name.partition(".")[0] for name in names} - sys.stdlib_module_names - own


@pytest.mark.parametrize("version", [(2, 7), (3, 6), (3, 10)])
def test_an_old_python_is_refused_in_words(version: tuple[int, int], monkeypatch: pytest.MonkeyPatch) -> None:
    """The sentence names the version that is wanted and the one that came."""
    monkeypatch.setattr(sys, "version_info", version)
    with pytest.raises(SystemExit, match=rf"3\.11 or newer, and this is Python {version[0]}\.{version[1]} "):
        load("check_python")


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The test command with a set-up that does nothing and with this Python."""
    command = load("test")
    monkeypatch.setattr(command.environment, "ensure", lambda _: None)
    monkeypatch.setattr(command.chromium, "ensure", lambda _: None)
    monkeypatch.setattr(command.webkit, "ensure", lambda _: None)
    monkeypatch.setattr(environment.Environment, "python", Path(sys.executable))
    return command


def test_every_check_runs_although_one_fails(
    command: ModuleType, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """One run tells everything that is wrong, and ends with a failure; pytest gets what follows the dashes."""
    checks = {"First": ["-c", "import sys; sys.exit('wrong\\nin two lines')"], "Second": ["-c", "print('ran')"]}
    monkeypatch.setattr(command, "CHECKS", checks)
    monkeypatch.setattr(command, "PYTEST", ["-c", "import sys; print(*sys.argv[1:], sep='|')"])
    monkeypatch.setattr(sys, "argv", ["test.py", "--quick", "--", "-k", "weibull", "tests/core"])
    assert 1 == command.body()
    told, _, summary = capfd.readouterr().out.partition("== Summary ==")
    assert ["passed", "passed", "FAILED", "passed"] == [line.split()[0] for line in summary.splitlines() if line]
    assert "|".join([*command.QUICK, "-k", "weibull", "tests/core"]) in told
    assert "== First ==\nwrong\nin two lines\n  FAILED" in told
    assert "== Second ==\nran\n  passed" in told
