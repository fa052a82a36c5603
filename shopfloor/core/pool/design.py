"""How the log life and the log shape of each condition are put together from effects that conditions share."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shopfloor.core.observations import FloatArray
from shopfloor.core.pool import priors
from shopfloor.core.pool.conditions import Condition, Trait
from shopfloor.core.pool.priors import Setting
from shopfloor.core.vocabulary import IsoGroup


@dataclass(frozen=True, eq=False)
class _Block:
    """Effects of one kind: a column for each label, with its mean and, by setting, its standard deviation."""

    labels: tuple[Hashable, ...]
    mean: tuple[float, ...]
    sd: Callable[[Setting], float]
    reads: Callable[[Condition], Mapping[Hashable, float]]
    """The labels of a condition, each with its value in the column."""
    mean_of: Callable[[Hashable], float] = lambda _: 0.0

    def row(self, condition: Condition) -> list[float]:
        """The condition's values in these columns."""
        values = self.reads(condition)
        return [values.get(label, 0.0) for label in self.labels]

    def unseen(self, condition: Condition) -> list[tuple[Hashable, float]]:
        """Labels of the condition that have no column, with their values."""
        return [(label, value) for label, value in self.reads(condition).items() if label not in self.labels]


@dataclass(frozen=True, eq=False)
class Rows:
    """How (b, m) of n conditions follow from the effects: `of_effects`, shape (2 n, p), in the order b, m, b, m, ...

    `more`, shape (2 n,), and `variance`, shape (k, 2 n): mean and variance by setting of what no column tells.
    """

    of_effects: FloatArray
    more: FloatArray
    variance: FloatArray


@dataclass(frozen=True, eq=False)
class Design:
    """Effects as columns: b = `shape` @ effects, m = `scale` @ effects, each matrix of shape (c, p).

    `mean` and `sd`, shape (k, p): what each setting says of the effects beforehand.
    """

    conditions: tuple[Condition, ...]
    settings: tuple[Setting, ...]
    shape: FloatArray
    scale: FloatArray
    mean: FloatArray
    sd: FloatArray
    _of_scale: tuple[_Block, ...]
    _of_shape: tuple[_Block, ...]

    @property
    def labels(self) -> list[Hashable]:
        """What each effect is of; each once."""
        return [(i, label) for i, block in enumerate((*self._of_scale, *self._of_shape)) for label in block.labels]

    def rows(self, conditions: Sequence[Condition]) -> Rows:
        """The rows of any conditions: what of them the log has not seen has the effect that is expected beforehand."""
        of_effects, more, variance = [], [], []
        p_scale = sum(len(block.labels) for block in self._of_scale)
        p_shape = self.mean.shape[1] - p_scale
        for one in conditions:
            of_effects += [
                [0.0] * p_scale + [value for block in self._of_shape for value in block.row(one)],
                [value for block in self._of_scale for value in block.row(one)] + [0.0] * p_shape,
            ]
            for blocks in (self._of_shape, self._of_scale):
                new = [(block, label, value) for block in blocks for label, value in block.unseen(one)]
                more.append(sum(block.mean_of(label) * value for block, label, value in new))
                variance.append([sum((block.sd(s) * value) ** 2 for block, _, value in new) for s in self.settings])
        return Rows(np.array(of_effects), np.array(more), np.array(variance).T)


def design(conditions: Sequence[Condition], settings: Sequence[Setting]) -> Design:
    """The design for these conditions, the same for every setting but for means and spreads."""
    scale, shape = _scale_blocks(conditions), _shape_blocks(conditions)
    of_scale = np.array([[value for block in scale for value in block.row(one)] for one in conditions])
    of_shape = np.array([[value for block in shape for value in block.row(one)] for one in conditions])
    columns = np.zeros((2, len(conditions), of_scale.shape[1] + of_shape.shape[1]))
    columns[1, :, : of_scale.shape[1]], columns[0, :, of_scale.shape[1] :] = of_scale, of_shape
    blocks = (*scale, *shape)
    sd = np.array([[block.sd(one) for block in blocks for _ in block.labels] for one in settings])
    mean = np.array([[value for block in blocks for value in block.mean]] * len(settings))
    mean[:, of_scale.shape[1]] = [one.shape for one in settings]
    return Design(tuple(conditions), tuple(settings), columns[0], columns[1], mean, sd, scale, shape)


def _scale_blocks(conditions: Sequence[Condition]) -> tuple[_Block, ...]:
    return (
        _block(conditions, lambda _: {"all": 1.0}, lambda _: priors.CENTRE_SD, lambda _: priors.CENTRE),
        _block(conditions, lambda one: {one.family: 1.0}, lambda _: priors.FAMILY_SD),
        _block(conditions, lambda one: {one.iso_group: 1.0}, lambda _: priors.ISO_GROUP_SD, _iso_mean),
        _block(conditions, lambda one: {one.material: 1.0}, lambda _: priors.MATERIAL_SD),
        _block(conditions, _log_speed, lambda _: priors.SPEED_POWER_SD, lambda _: priors.SPEED_POWER),
        _block(conditions, lambda one: dict.fromkeys(one.traits, 1.0), lambda _: priors.TRAIT_SD, _trait_mean),
        _block(conditions, lambda one: {one.group: 1.0}, lambda setting: setting.group_sd),
    )


def _shape_blocks(conditions: Sequence[Condition]) -> tuple[_Block, ...]:
    return (
        _block(conditions, lambda _: {"all": 1.0}, lambda setting: setting.shape_sd),
        _block(conditions, lambda one: {one.family: 1.0}, lambda setting: setting.shape_family_sd),
        _block(conditions, lambda one: {one.group: 1.0}, lambda setting: setting.shape_group_sd),
    )


def _block(
    conditions: Sequence[Condition],
    reads: Callable[[Condition], Mapping[Any, float]],
    sd: Callable[[Setting], float],
    mean_of: Callable[[Any], float] = lambda _: 0.0,
) -> _Block:
    labels = tuple(dict.fromkeys(label for one in conditions for label in reads(one)))
    return _Block(labels, tuple(mean_of(label) for label in labels), sd, reads, mean_of)


def _iso_mean(group: IsoGroup | None) -> float:
    return priors.iso_offset(group)


def _trait_mean(trait: tuple[Trait, str]) -> float:
    return priors.TRAIT_MEANS.get(trait, 0.0)


def _log_speed(condition: Condition) -> Mapping[str, float]:
    """Log of the speed over the usual one; nothing where the speed is not known."""
    return {"speed": math.log((condition.speed or priors.USUAL_SPEED) / priors.USUAL_SPEED)}
