"""Several people who do something at the same moment."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

from shopfloor.core.errors import InputError


def together(*deeds: Callable[[], Any]) -> list[Any]:
    """Do all at the same moment; their answers, or how the shop refused them. Any other error comes through."""
    start = Barrier(len(deeds))

    def do(deed: Callable[[], Any]) -> Any:
        start.wait()
        try:
            return deed()
        except InputError as refusal:
            return refusal

    with ThreadPoolExecutor(len(deeds)) as people:
        return list(people.map(do, deeds))
