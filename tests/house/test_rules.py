"""Rules that stand in one place stay there."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import shopfloor

PRODUCT = Path(shopfloor.__file__).parent
COLUMNS = {"holes", "broke_at_hole"}
HOLES_MADE = ["core/floor/tap_lives.py", "store/floor.py"]


def choices(source: str) -> Iterator[set[str]]:
    """The names in each expression that chooses between values: `coalesce`, `or`, `if` and `else`."""
    for node in ast.walk(ast.parse(source)):
        is_coalesce = isinstance(node, ast.Call) and ast.unparse(node.func).endswith("coalesce")
        if is_coalesce or isinstance(node, ast.BoolOp | ast.IfExp):
            names = (getattr(part, "attr", getattr(part, "id", None)) for part in ast.walk(node))
            yield {name for name in names if name is not None}


def test_holes_made_in_a_run_are_worked_out_in_one_place() -> None:
    """The core's rule and its SQL, as `Run.holes_made`, are the only ones that choose between the two columns."""
    modules = {path.relative_to(PRODUCT).as_posix(): path for path in PRODUCT.rglob("*.py")}
    assert sorted(HOLES_MADE) == sorted(
        name for name, path in modules.items() for names in choices(path.read_text("utf-8")) if names >= COLUMNS
    )
