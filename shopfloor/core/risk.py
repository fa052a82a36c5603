"""Will this tap last the batch: its chance of failing within the next holes, as numbers ready for words."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from shopfloor.core.fit import LifeResult
from shopfloor.core.intervals import Estimates


def chance_of_failing(life: LifeResult, holes_before: ArrayLike, holes_next: ArrayLike) -> Estimates:
    """Chance that a tap which has made `holes_before` holes fails within the next `holes_next`.

    Parameters
    ----------
    life : WeibullFit or NotEnoughData        fitted on holes
    holes_before, holes_next : array_like of float, shapes that broadcast, holes, at least 0

    Returns
    -------
    Estimates      probabilities in 0..1 with their intervals; `value` None where there is only an upper bound

    Raises
    ------
    InputError     a negative or infinite count; names the argument

    Notes
    -----
    1 - S(a + b) / S(a), evaluated as -expm1(H(a) - H(a + b)) to keep small chances exact.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, section 8.1.2 (conditional reliability);
    W. Q. Meeker & L. A. Escobar, Statistical Methods for Reliability Data, 1998, section 8.3 (interval)

    Examples
    --------
    >>> from shopfloor.core.fit import fit_weibull
    >>> from shopfloor.core.observations import Lives
    >>> ages = [1500, 2250, 4000, 4300, 7000]
    >>> fit = fit_weibull(Lives.of([*ages, 1750, 5000], [*ages, float("inf"), float("inf")]))
    >>> chance_of_failing(fit, [0, 4000], 100).value.round(5).tolist()
    [0.00015, 0.0356]
    """
    return life.risks(holes_before, holes_next)


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
