"""Everything that this process derives from logs and keeps in memory: one place, so that one call forgets it all.

Results are kept by the data they rest on: as long as a part of the log says the same, nothing is worked out twice.
What one state of a log owns is `shopfloor.services.advice.log_state.LogState`.
"""

from __future__ import annotations

from collections.abc import Callable, MutableMapping
from functools import lru_cache
from typing import Any, ParamSpec, TypeVar

_P = ParamSpec("_P")
_R = TypeVar("_R")
_Mapping = TypeVar("_Mapping", bound=MutableMapping[Any, Any])

_forgetters: list[Callable[[], Any]] = []


def derived(most: int) -> Callable[[Callable[_P, _R]], Callable[_P, _R]]:
    """Keep the `most` latest results of a function of a part of the log alone; its arguments are hashable."""

    def keeping(function: Callable[_P, _R]) -> Callable[_P, _R]:
        cached = lru_cache(maxsize=most)(function)
        _forgetters.append(cached.cache_clear)
        return cached  # type: ignore[return-value] # lru_cache loses the types of the arguments

    return keeping


def kept(mapping: _Mapping) -> _Mapping:
    """The mapping, of derived values, as one that `forget` empties."""
    _forgetters.append(mapping.clear)
    return mapping


def forget() -> None:
    """Forget all that was derived, as after a start."""
    for clear in _forgetters:
        clear()
