"""Several people who do something at the same moment."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

from shopfloor.core.errors import InputError


def together(*actions: Callable[[], Any]) -> list[Any]:
    """Do all at the same moment; their answers, or how the shop refused them. Any other error comes through."""
    start = Barrier(len(actions))

    def do(action: Callable[[], Any]) -> Any:
        start.wait()
        try:
            return action()
        except InputError as refusal:
            return refusal

    with ThreadPoolExecutor(len(actions)) as people:
        return list(people.map(do, actions))
