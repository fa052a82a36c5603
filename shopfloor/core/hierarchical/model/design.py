"""How the log life and the log shape of each condition are put together from effects that conditions share."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from shopfloor.core.hierarchical.model import priors
from shopfloor.core.hierarchical.model.conditions import Condition, Trait
from shopfloor.core.hierarchical.model.priors import Setting
from shopfloor.core.survival.censored_data import BoolArray, FloatArray
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

    @cached_property
    def places(self) -> dict[Hashable, int]:
        """The column of each label."""
        return {label: i for i, label in enumerate(self.labels)}

    def rows(self, conditions: Sequence[Condition]) -> FloatArray:
        """The conditions' values in these columns."""
        found = np.zeros((len(conditions), len(self.labels)))
        for row, condition in zip(found, conditions, strict=True):
            for label, value in self.reads(condition).items():
                if label in self.places:
                    row[self.places[label]] = value
        return found

    def unseen(self, condition: Condition) -> list[tuple[Hashable, float]]:
        """Labels of the condition that have no column, with their values."""
        return [(label, value) for label, value in self.reads(condition).items() if label not in self.places]


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
        shape, scale = _columns(conditions, self._of_scale, self._of_shape)
        more, variance = [], []
        for one in conditions:
            for blocks in (self._of_shape, self._of_scale):
                new = [(block, label, value) for block in blocks for label, value in block.unseen(one)]
                more.append(sum(block.mean_of(label) * value for block, label, value in new))
                variance.append([sum((block.sd(s) * value) ** 2 for block, _, value in new) for s in self.settings])
        of_effects = np.stack([shape, scale], axis=1).reshape(2 * len(conditions), -1)
        return Rows(of_effects, np.array(more), np.array(variance).T)

    def of_settings(self, which: BoolArray) -> Design:
        """The same for some of the settings only, shape (k,)."""
        some = tuple(one for one, is_in in zip(self.settings, which, strict=True) if is_in)
        return replace(self, settings=some, mean=self.mean[which], sd=self.sd[which])


def design(conditions: Sequence[Condition], settings: Sequence[Setting]) -> Design:
    """The design for these conditions, the same for every setting but for means and spreads."""
    scale, shape = _scale_blocks(conditions), _shape_blocks(conditions)
    blocks = (*scale, *shape)
    many = [len(block.labels) for block in blocks]
    sd = np.repeat([[block.sd(one) for block in blocks] for one in settings], many, axis=1)
    mean = np.array([[value for block in blocks for value in block.mean]] * len(settings))
    mean[:, sum(many[: len(scale)])] = [one.shape for one in settings]
    of_shape, of_scale = _columns(conditions, scale, shape)
    return Design(tuple(conditions), tuple(settings), of_shape, of_scale, mean, sd, scale, shape)


def _columns(
    conditions: Sequence[Condition], of_scale: Sequence[_Block], of_shape: Sequence[_Block]
) -> tuple[FloatArray, FloatArray]:
    """What (b, m) of conditions are made of, (n, p) each: the columns of scale first, then those of shape."""
    scale, shape = (np.hstack([block.rows(conditions) for block in blocks]) for blocks in (of_scale, of_shape))
    return np.hstack([np.zeros_like(scale), shape]), np.hstack([scale, np.zeros_like(shape)])


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
