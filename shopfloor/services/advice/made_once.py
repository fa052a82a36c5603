"""What follows from something that does not change any more: made on first use, and kept beside it."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

_Result = TypeVar("_Result")


class MadeOnce:
    """Results by key, for as long as what they follow from is there."""

    def __init__(self) -> None:
        self._made: dict[Hashable, Any] = {}

    def once(self, key: Hashable, make: Callable[[], _Result]) -> _Result:
        """The result under this key, made on first use."""
        if key not in self._made:
            self._made[key] = make()
        result: _Result = self._made[key]
        return result
