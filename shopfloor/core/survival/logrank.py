"""Non-parametric comparison of the lives of groups of taps: the log-rank test and Gehan's test.

References: J. P. Klein & M. L. Moeschberger, Survival Analysis, 2nd ed. 2003, equations 7.3.4 to 7.3.6; E. A. Gehan,
Biometrika 52 (1965) 203-223.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import chdtrc

from shopfloor.core.errors import InputError
from shopfloor.core.survival.censored_data import FloatArray, Lives
from shopfloor.core.survival.survival_curve import at_risk_at, failed_at

Weighting = Literal["log-rank", "Gehan"]


@dataclass(frozen=True, eq=False)
class LogRankTest:
    """Failures observed in each group and expected under equal hazards; chi-square with its p-value."""

    observed: FloatArray
    expected: FloatArray
    chi_square: float
    p_value: float


def compare_lives(groups: Sequence[Lives], weighting: Weighting = "log-rank") -> LogRankTest:
    """Test whether two or more groups have the same distribution of life.

    Parameters
    ----------
    groups : sequence of Lives      exact failures and survivors, left-truncated ones too
    weighting                       'log-rank': all ages equally; 'Gehan': early failures weigh more

    Returns
    -------
    LogRankTest                     degrees of freedom: groups less one

    Raises
    ------
    InputError      fewer than two groups, an interval failure, or no failure with others at risk

    References
    ----------
    Klein & Moeschberger 2003, equations 7.3.4 to 7.3.6; Gehan 1965
    """
    if len(groups) < 2:
        raise InputError.of("groups", "nothing to compare", "give two or more")
    if any(np.any(lives.is_failure & ~lives.is_exact) for lives in groups):
        raise InputError.of("groups", "some failures are known to an interval only", "give exact failures")
    ages = np.unique(np.concatenate([lives.upper[lives.is_failure] for lives in groups]))
    failed = np.stack([failed_at(lives, ages) for lives in groups])
    at_risk = np.stack([at_risk_at(lives, ages) for lives in groups])
    all_failed, all_at_risk = failed.sum(axis=0), at_risk.sum(axis=0)
    weight = all_at_risk if weighting == "Gehan" else np.ones(len(ages))
    share = at_risk / all_at_risk
    expected = share * all_failed
    spread = all_failed * (all_at_risk - all_failed) / np.maximum(all_at_risk - 1, 1) * weight**2
    excess = ((failed - expected) @ weight)[:-1]
    covariance = (np.diag(share @ spread) - (share * spread) @ share.T)[:-1, :-1]
    if np.linalg.matrix_rank(covariance) < len(excess):
        raise InputError.of("groups", "no failure while taps of each group were at risk", "give such failures")
    chi_square = float(excess @ np.linalg.solve(covariance, excess))
    p_value = float(chdtrc(len(excess), chi_square))
    return LogRankTest(failed.sum(axis=1), expected.sum(axis=1), chi_square, p_value)
