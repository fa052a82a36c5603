"""How taps end, and whether the law fits: the core's answers, at round ages."""

from __future__ import annotations

import math

import pytest

from shopfloor.core.life_table.round_ages import round_ages
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.survival.cumulative_incidence import cumulative_incidence
from shopfloor.core.units import AgeUnit
from shopfloor.core.vocabulary import Mode
from shopfloor.services.quality.goodness import endings

LIVES = Lives.of(
    [60, 90, 110, 130, 150, 190, 200], [60, 90, 110, 130, 150, 190, math.inf],
    mode=["break", "wear", "break", "wear", "wear", "wear", ""],
)  # fmt: skip


def test_endings_are_the_incidence_at_round_ages() -> None:
    """Broken, worn and good add up to all taps; bands are those of the core."""
    found, known = endings(LIVES, 0.9), cumulative_incidence(LIVES, 0.9)
    assert found is not None
    for row in found.rows:
        assert 1 == pytest.approx(row.good + sum(share.value for share in row.failed.values()))
    last = found.rows[-1]
    for mode in Mode:
        ends = (known.lower[mode.value][-1], known.upper[mode.value][-1])
        assert (known.by_mode[mode.value][-1], ends) == (last.failed[mode].value, last.failed[mode].band)
    assert (0.0, None) == (found.rows[0].failed[Mode.BREAK].value, found.rows[0].failed[Mode.BREAK].band)


def test_without_failures_there_are_no_endings() -> None:
    """Nothing has ended."""
    assert endings(Lives.of([100, 200], [math.inf, math.inf]), 0.9) is None


@pytest.mark.parametrize("last", [1, 13, 14, 15, 99, 774, 12345])
def test_ages_are_round_and_few(last: int) -> None:
    """At most 14, in steps of 1, 2 or 5 times a power of ten."""
    ages = round_ages(float(last))
    assert 1 <= len(ages) <= 14
    assert {"1", "2", "5"} >= {f"{ages[0]:g}".rstrip("0") if ages[0] >= 10 else f"{ages[0]:g}"}


@pytest.mark.parametrize("last", [0.03, 0.7, 4.8, 15.7, 160.0])
def test_round_lengths_are_few_and_as_short_as_they_need_be(last: float) -> None:
    """At most 14, in steps of 1, 2 or 5 times a power of ten, below one as well."""
    ages = round_ages(last, AgeUnit.METRES)
    assert 1 <= len(ages) <= 14
    assert f"{ages[0]:e}"[0] in "125"
    assert ages[-1] - 1e-9 <= last < ages[-1] + ages[0]
