"""What a table of lives tells of each of its groups: the posterior of all groups together, without a record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopfloor.core.hierarchical.inference.posterior import experience, posteriors
from shopfloor.core.hierarchical.model.conditions import Condition, Histories, IntArray
from shopfloor.core.hierarchical.model.exploration import Experience
from shopfloor.core.hierarchical.prediction.draws import Laws, draw
from shopfloor.core.survival.censored_data import Evidence, Lives
from shopfloor.core.vocabulary import Mode


@dataclass(frozen=True, eq=False)
class GroupLaws:
    """What is known of the lives under one condition.

    Attributes
    ----------
    evidence             lives, failures and holes of exactly this condition
    leaning : float      share of what is known of the first mode there that comes from the other groups, and from what
                         is known of taps beforehand
    experience           what the table holds, and what of it here
    modes, laws          the modes of failure, which compete, and the draws of the laws of each
    """

    condition: Condition
    evidence: Evidence
    leaning: float
    experience: Experience
    modes: tuple[str, ...]
    laws: tuple[Laws, ...]


def group_laws(lives: Lives, conditions: Sequence[Condition], place: IntArray) -> list[GroupLaws]:
    """The laws of life in each group, leaning on the others where it has few failures.

    Parameters
    ----------
    lives         holes; each spent under one condition
    conditions    those of the lives; each once
    place         shape (n,): the place of each life's condition in `conditions`
    """
    modes = competing_modes(lives)
    histories = Histories.plain(lives, place)
    known = list(posteriors(histories, conditions, modes).values())
    return [
        GroupLaws(
            condition,
            lives.rows(np.flatnonzero(place == i)).evidence,
            known[0].leaning(condition),
            experience(known, condition),
            modes,
            tuple(draw(one, [condition], stream=stream) for stream, one in enumerate(known)),
        )
        for i, condition in enumerate(conditions)
    ]


def competing_modes(lives: Lives) -> tuple[str, ...]:
    """The modes that these lives can fail by: break and wear where either is named, else those that are named.

    Where none is named all failures count as of one mode, without a name.
    """
    told, usual = tuple(lives.modes()), tuple(mode.value for mode in Mode)
    return usual if told and set(told) <= set(usual) else told or ("",)
