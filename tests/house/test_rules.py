"""Rules that stand in one place stay there."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import shopfloor

PRODUCT = Path(shopfloor.__file__).parent
COLUMNS = {"holes", "broke_at_hole"}
HOLES_MADE = ["core/floor/tap_lives.py", "store/floor.py"]
SPEED_BAND = ("shopfloor.core.floor.cutting", "speed_band")


def choices(source: str) -> Iterator[set[str]]:
    """The names in each expression that chooses between values: `coalesce`, `or`, `if` and `else`."""
    for node in ast.walk(ast.parse(source)):
        is_coalesce = isinstance(node, ast.Call) and ast.unparse(node.func).endswith("coalesce")
        if is_coalesce or isinstance(node, ast.BoolOp | ast.IfExp):
            names = (getattr(part, "attr", getattr(part, "id", None)) for part in ast.walk(node))
            yield {name for name in names if name is not None}


def imported(source: str) -> set[tuple[str | None, str]]:
    """What a module imports by name: from where, and what."""
    nodes = (node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.ImportFrom))
    return {(node.module, alias.name) for node in nodes for alias in node.names}


def modules() -> dict[str, str]:
    """The product's modules by their paths."""
    return {path.relative_to(PRODUCT).as_posix(): path.read_text("utf-8") for path in PRODUCT.rglob("*.py")}


def test_holes_made_in_a_run_are_worked_out_in_one_place() -> None:
    """The core's rule and its SQL, as `Run.holes_made`, are the only ones that choose between the two columns."""
    found = [name for name, source in modules().items() for names in choices(source) if names >= COLUMNS]
    assert sorted(HOLES_MADE) == sorted(found)


def test_a_run_is_placed_in_its_speed_band_in_one_place() -> None:
    """`cutting_conditions` and `band_at` of the log's queries; everybody else asks them."""
    assert ["store/queries/log.py"] == [name for name, source in modules().items() if SPEED_BAND in imported(source)]
