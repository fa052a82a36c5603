"""Names that mean one thing."""

from __future__ import annotations

import ast
from collections import Counter
from pathlib import Path

import shopfloor

PRODUCT = Path(shopfloor.__file__).parent


def test_each_class_name_stands_for_one_thing() -> None:
    """Whoever reads a name need not ask which of two is meant."""
    trees = (ast.parse(path.read_text("utf-8")) for path in PRODUCT.rglob("*.py"))
    names = Counter(node.name for tree in trees for node in ast.walk(tree) if isinstance(node, ast.ClassDef))
    assert set() == {name for name, times in names.items() if times > 1}
