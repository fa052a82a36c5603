"""A posterior as bytes, without the lives that it was found from, and back.

What is worked out from it afterwards is the same to the last digit: the design follows from conditions and
hyperparameters, everything else is stored.
"""

from __future__ import annotations

from dataclasses import astuple, fields
from typing import Any

from shopfloor.core.hierarchical.inference.posterior import Posterior
from shopfloor.core.hierarchical.model.conditions import Condition
from shopfloor.core.hierarchical.model.design import design
from shopfloor.core.hierarchical.model.own_lives import CompetingPoints, CountedAges, CountedIntervals, OwnLives
from shopfloor.core.hierarchical.model.priors import Hyperparameters
from shopfloor.core.packing import Arrays, packed, unpacked

_NUMBERS = ("weight", "frailty", "map_effects", "effects", "root", "own_gradient", "own_precision")
_COUNTS = ("failures", "lives", "exact", "log_ages")


def packed_posterior(posterior: Posterior) -> bytes:
    """The posterior as bytes."""
    own, shared = posterior.own, posterior.design
    arrays = {name: getattr(posterior, name) for name in _NUMBERS} | {name: getattr(own, name) for name in _COUNTS}
    arrays |= _columns("ages", own.ages) | _columns("intervals", own.intervals)
    if own.competing is not None:
        arrays |= _columns("competing", own.competing)
    conditions = [one.plain for one in shared.conditions]
    return packed({"conditions": conditions, "settings": [astuple(one) for one in shared.hyperparameters]}, arrays)


def unpacked_posterior(body: bytes) -> Posterior:
    """The posterior that was packed."""
    facts, arrays = unpacked(body)
    settings = [Hyperparameters(*one) for one in facts["settings"]]
    has_competing = any(name.startswith("competing.") for name in arrays)
    own = OwnLives(
        **{name: arrays[name] for name in _COUNTS},
        ages=_read(CountedAges, "ages", arrays),
        intervals=_read(CountedIntervals, "intervals", arrays),
        competing=_read(CompetingPoints, "competing", arrays) if has_competing else None,
    )
    shared = design([Condition.of_plain(one) for one in facts["conditions"]], settings)
    return Posterior(own, shared, **{name: arrays[name] for name in _NUMBERS})


def _columns(name: str, table: Any) -> Arrays:
    return {f"{name}.{one.name}": getattr(table, one.name) for one in fields(table)}


def _read(table: Any, name: str, arrays: Arrays) -> Any:
    return table(**{one.name: arrays[f"{name}.{one.name}"] for one in fields(table)})
