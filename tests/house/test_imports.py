"""Which way imports may point."""

from __future__ import annotations

import json
import logging
import pkgutil
import re
import subprocess
import sys
from pathlib import Path

import pytest
from importlinter.cli import lint_imports

import shopfloor.core

ROOT = Path(__file__).resolve().parents[2]
HEAVY = {"flask", "flask_wtf", "werkzeug", "jinja2", "wtforms", "sqlalchemy", "alembic", "pandas", "plotly"}
LOAD = "import importlib, json, sys; [importlib.import_module(n) for n in {names}]; print(json.dumps([*sys.modules]))"


def loaded_by(*names: str) -> set[str]:
    """The top-level packages that a fresh interpreter holds after importing some modules."""
    command = [sys.executable, "-c", LOAD.format(names=names)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, encoding="utf-8", check=True)
    return {name.partition(".")[0] for name in json.loads(done.stdout)}


def test_every_contract_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    """No module imports what pyproject.toml forbids it."""
    # The linter switches off every logger that it finds; for the tests after this one they speak again.
    for logger in logging.root.manager.loggerDict.values():
        if isinstance(logger, logging.Logger):
            monkeypatch.setattr(logger, "disabled", logger.disabled)
    assert 0 == lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True, no_logo=True)


def test_the_whole_core_loads_without_web_database_or_tables() -> None:
    """Whoever needs the numbers alone does not pay for the rest."""
    names = [module.name for module in pkgutil.walk_packages(shopfloor.core.__path__, "shopfloor.core.")]
    assert len(names) > 5
    assert set() == HEAVY & loaded_by("shopfloor.core", *names)


def test_the_settings_load_without_web_and_numbers() -> None:
    """A wrong setting is told at once, before anything slow is loaded."""
    assert set() == (HEAVY | {"numpy", "scipy"}) & loaded_by("shopfloor.settings")


def test_raw_input_is_read_in_one_package_of_the_core() -> None:
    """Services and pages get entries that are checked already: no other module makes a Reader."""
    product = ROOT / "shopfloor"
    readers = {
        path.relative_to(product).as_posix()
        for path in product.rglob("*.py")
        if "core/input/" not in path.as_posix() and re.search(r"\bReader\(", path.read_text("utf-8"))
    }
    assert set() == readers
