"""A chance as a person says it."""

from __future__ import annotations

import numpy as np


def one_in(chance: float) -> int | None:
    """The n of 'about 1 in n', rounded as a person would say it; None for no chance, or for more likely than not.

    References: common practice, no source.

    Examples
    --------
    >>> one_in(0.083), one_in(0.0123), one_in(0.6), one_in(0.0)
    (12, 80, None, None)
    """
    if not 0 < chance <= 0.5:
        return None
    n = 1 / chance
    grain = 1 if n < 20 else 5 if n < 50 else 10 ** int(np.log10(n))
    return round(n / grain) * grain
