"""How the log life and the log shape of each condition are put together from effects that conditions share."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from shopfloor.core.observations import FloatArray
from shopfloor.core.pool import priors
from shopfloor.core.pool.conditions import Condition
from shopfloor.core.pool.priors import Setting

Label = TypeVar("Label")


@dataclass(frozen=True, eq=False)
class Design:
    """Effects as columns: b = `shape` @ effects, m = `scale` @ effects, each matrix of shape (c, p).

    `mean` and `sd`, shape (k, p): what each setting says of the effects beforehand.
    """

    shape: FloatArray
    scale: FloatArray
    mean: FloatArray
    sd: FloatArray


@dataclass(frozen=True, eq=False)
class _Block:
    """Columns of some effects of one kind, with their mean and standard deviation by setting."""

    columns: FloatArray
    mean: FloatArray
    sd: Callable[[Setting], float]


def design(conditions: Sequence[Condition], settings: Sequence[Setting]) -> Design:
    """The design for these conditions, the same for every setting but for means and spreads."""
    scale, shape = _scale_blocks(conditions), _shape_blocks(conditions)
    c, p_scale = len(conditions), sum(block.columns.shape[1] for block in scale)
    columns = np.zeros((2, c, p_scale + sum(block.columns.shape[1] for block in shape)))
    columns[1, :, :p_scale] = np.hstack([block.columns for block in scale])
    columns[0, :, p_scale:] = np.hstack([block.columns for block in shape])
    blocks = [*scale, *shape]
    sd = np.array([np.concatenate([np.full(b.columns.shape[1], b.sd(one)) for b in blocks]) for one in settings])
    mean = np.tile(np.concatenate([block.mean for block in blocks]), (len(settings), 1))
    mean[:, p_scale] = [one.shape for one in settings]
    return Design(columns[0], columns[1], mean, sd)


def _scale_blocks(conditions: Sequence[Condition]) -> list[_Block]:
    iso_groups, by_iso = _by_label(conditions, lambda one: one.iso_group)
    _, by_family = _by_label(conditions, lambda one: one.family)
    _, by_material = _by_label(conditions, lambda one: one.material)
    speed = np.array([[math.log((one.speed or priors.USUAL_SPEED) / priors.USUAL_SPEED)] for one in conditions])
    _, traits = _by_trait(conditions)
    return [
        _Block(np.ones((len(conditions), 1)), np.array([priors.CENTRE]), lambda _: priors.CENTRE_SD),
        _Block(by_family, _zeros(by_family), lambda _: priors.FAMILY_SD),
        _Block(by_iso, np.array([priors.iso_offset(group) for group in iso_groups]), lambda _: priors.ISO_GROUP_SD),
        _Block(by_material, _zeros(by_material), lambda _: priors.MATERIAL_SD),
        _Block(speed, np.array([priors.SPEED_POWER]), lambda _: priors.SPEED_POWER_SD),
        _Block(traits, _zeros(traits), lambda _: priors.TRAIT_SD),
        _Block(np.eye(len(conditions)), np.zeros(len(conditions)), lambda one: one.group_sd),
    ]


def _shape_blocks(conditions: Sequence[Condition]) -> list[_Block]:
    _, by_family = _by_label(conditions, lambda one: one.family)
    c = len(conditions)
    return [
        _Block(np.ones((c, 1)), np.zeros(1), lambda one: one.shape_sd),
        _Block(by_family, _zeros(by_family), lambda one: one.shape_family_sd),
        _Block(np.eye(c), np.zeros(c), lambda one: one.shape_group_sd),
    ]


def _by_label(
    conditions: Sequence[Condition], label: Callable[[Condition], Label]
) -> tuple[list[Label], FloatArray]:
    """The labels that occur, and a column of 0 and 1 for each."""
    labels = list(dict.fromkeys(label(one) for one in conditions))
    return labels, np.array([[float(label(one) == other) for other in labels] for one in conditions])


def _by_trait(conditions: Sequence[Condition]) -> tuple[list[tuple[str, str]], FloatArray]:
    traits = sorted({trait for one in conditions for trait in one.traits})
    columns = [[float(trait in one.traits) for trait in traits] for one in conditions]
    return traits, np.array(columns).reshape(len(conditions), len(traits))


def _zeros(columns: FloatArray) -> FloatArray:
    return np.zeros(columns.shape[1])
