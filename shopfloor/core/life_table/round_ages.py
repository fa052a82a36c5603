"""Round ages at which a table or a chart shows its values."""

from __future__ import annotations

import numpy as np

from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.core.units import AgeUnit

ROWS = 14


_LEAST_STEP = {AgeUnit.HOLES: 1.0, AgeUnit.METRES: 0.01, AgeUnit.FEET: 0.05}
"""Finer steps between the rows of a table show nothing: about one hole."""


def round_ages(last: float, unit: AgeUnit = AgeUnit.HOLES) -> FloatArray:
    """At most `ROWS` round ages up to the last: in steps of 1, 2 or 5 times a power of ten, holes in whole numbers."""
    rough = max(last / ROWS, _LEAST_STEP[unit])
    power = 10.0 ** np.floor(np.log10(rough))
    factor = next(factor for factor in (1, 2, 5, 10) if factor * power >= rough)
    step = float(f"{factor * power:.1g}")
    return step * np.arange(1, np.floor(last / step + 1e-9) + 1)
