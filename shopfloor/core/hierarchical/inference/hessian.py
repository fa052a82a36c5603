"""The Hessian of the log posterior: from derivatives by condition to the effects that conditions share."""

from __future__ import annotations

from copy import copy

import numpy as np
from scipy.sparse import csr_array

from shopfloor.core.hierarchical.model.conditions import IntArray
from shopfloor.core.hierarchical.model.design import Design
from shopfloor.core.hierarchical.model.frailty import LogLikelihood
from shopfloor.core.survival.censored_data import BoolArray, FloatArray

Cells = tuple[IntArray, IntArray]
"""Rows and columns, indexing the parameters b of every condition, then m of every condition."""


class Hessian:
    """Assembles the negative Hessian of the effects; a sparse product, as each condition has few effects."""

    def __init__(self, design: Design, mixed_hessian: Cells | None) -> None:
        self.design = design
        c, self._p = design.scale.shape
        b, m = np.arange(c), np.arange(c, 2 * c)
        cells = [(b, b), (b, m), (m, b), (m, m), *(() if mixed_hessian is None else (mixed_hessian,))]
        row, column = (np.concatenate(places) for places in zip(*cells, strict=True))
        effect, value = _by_effect(np.vstack([design.shape, design.scale]))
        sums = effect[row][:, :, None] * self._p + effect[column][:, None, :]
        parts = value[row][:, :, None] * value[column][:, None, :]
        cell = np.broadcast_to(np.arange(len(row))[:, None, None], parts.shape)
        is_part = parts != 0
        where = (sums[is_part], cell[is_part])
        self._sums = csr_array((parts[is_part], where), shape=(self._p**2, len(row)))

    def subset(self, which: BoolArray) -> Hessian:
        """The same for some of the hyperparameter settings, by mask (k,)."""
        some = copy(self)
        some.design = self.design.subset(which)
        return some

    def at(self, log_likelihood: LogLikelihood) -> FloatArray:
        """Precision of the effects, shape (k, p, p): negative Hessian of the log-likelihood plus prior precision."""
        cells = [
            log_likelihood.bb,
            log_likelihood.bm,
            log_likelihood.bm,
            log_likelihood.mm,
            *(() if log_likelihood.mixed_hessian is None else (log_likelihood.mixed_hessian,)),
        ]
        found = np.asarray((self._sums @ np.concatenate(cells, axis=1).T).T).reshape(-1, self._p, self._p)
        found = np.ascontiguousarray(found)
        places = np.arange(self._p)
        found[:, places, places] += self.design.sd**-2.0
        return found


def _by_effect(of_effects: FloatArray) -> tuple[IntArray, FloatArray]:
    """The effects of each parameter and their coefficients, shape (2 c, w); padded with coefficients of 0."""
    is_there = of_effects != 0
    order = np.argsort(~is_there, axis=1, kind="stable")[:, : int(is_there.sum(axis=1).max())]
    return order, np.take_along_axis(of_effects, order, axis=1)
