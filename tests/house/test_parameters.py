"""What a caller of the core needs to know stands in its docstrings."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator

import pytest

import shopfloor.core

MANY = 3
"""From so many parameters on their names alone do not say what is wanted."""

PARAMETERS = re.compile(r"^Parameters\n-{10}\n(.*?)(?=^\w[\w ]*\n---|\Z)", re.M | re.S)


def public_functions() -> Iterator[tuple[str, Callable[..., object]]]:
    """Functions, and methods of classes, that the core offers; by their qualified names."""
    for module in pkgutil.walk_packages(shopfloor.core.__path__, "shopfloor.core."):
        for name, thing in vars(importlib.import_module(module.name)).items():
            if getattr(thing, "__module__", None) != module.name or name.startswith("_"):
                continue
            if inspect.isfunction(thing):
                yield thing.__qualname__, thing
            elif inspect.isclass(thing):
                methods = (getattr(one, "__func__", one) for one in vars(thing).values())
                yield from (
                    (one.__qualname__, one)
                    for one in methods
                    if inspect.isfunction(one) and not one.__name__.startswith("_") and one.__module__ == module.name
                )


def wanted(function: Callable[..., object]) -> list[str]:
    """The parameters that a caller gives."""
    return [name for name in inspect.signature(function).parameters if name not in ("self", "cls")]


def undescribed(function: Callable[..., object]) -> set[str]:
    """Its parameters that no Parameters section names; as they are, or as columns of a list."""
    section = PARAMETERS.search(inspect.getdoc(function) or "")
    described = set(re.findall(r"\w+", " ".join(re.findall(r"^\S.*", section[1], re.M)))) if section else set()
    return set(wanted(function)) - described


@pytest.fixture(scope="module")
def of_many() -> dict[str, set[str]]:
    """The functions with so many parameters that each must be described, with those that are not."""
    return {name: undescribed(one) for name, one in public_functions() if len(wanted(one)) >= MANY}


def test_parameters_are_described(of_many: dict[str, set[str]]) -> None:
    """Whoever calls a function of the core with three or more parameters reads what each of them is."""
    assert {} == {name: left for name, left in of_many.items() if left}
