"""Draws of one mode in many conditions, each by itself, as bytes and back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from shopfloor.core.hierarchical.model.conditions import Condition
from shopfloor.core.hierarchical.prediction.draws import Draws
from shopfloor.core.packing import packed, unpacked


def packed_draws(drawn: Mapping[Condition, Draws]) -> bytes:
    """The draws as bytes; `frailty` is the same in all conditions."""
    each = list(drawn.values())
    arrays = {name: _columns(each, name) for name in ("log_shape", "log_scale", "log_weight")}
    frailty = each[0].frailty if each else np.zeros(0)
    return packed([one.plain for one in drawn], arrays | {"frailty": frailty})


def _columns(each: Sequence[Draws], name: str) -> np.ndarray:
    return np.array([getattr(one, name).ravel() for one in each], float)


def unpacked_draws(body: bytes) -> dict[Condition, Draws]:
    """The draws that were packed."""
    conditions, arrays = unpacked(body)
    columns = zip(conditions, arrays["log_shape"], arrays["log_scale"], arrays["log_weight"], strict=True)
    return {
        Condition.of_plain(told): Draws(shape[:, None], scale[:, None], arrays["frailty"], weight)
        for told, shape, scale, weight in columns
    }
