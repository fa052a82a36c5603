"""The early warning: published run lengths, the rate of false alarms, what alarms and what never does."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.floor.slip_cusum import (
    FEWEST_BATCHES,
    RATIO,
    Batch,
    average_run_length,
    decision_limit,
    reference,
    watch,
)

PEERS = Batch(holes=10_000, slips=200)


def test_run_lengths_are_those_that_were_published() -> None:
    """J. M. Lucas, Technometrics 27 (1985), k = 0.25, h = 10, mean 0.25: 438 (Table 2), with head start 333 (Table 3).

    Printed values as the manual of the R package spc (pois.cusum.arl) quotes them, with its head start of round(39 / 2)
    quarters.
    """
    assert 438 == round(average_run_length(0.25, k=1, h=40, unit=4))
    assert 333 == round(average_run_length(0.25, k=1, h=40, unit=4, start=20))


def test_a_run_length_agrees_with_simulation() -> None:
    """Another, slow way: sums drawn until they alarm."""
    rng = np.random.default_rng(1)
    lengths = []
    for _ in range(2000):
        total, batches = 0, 0
        while total < 12:
            total, batches = max(0, total + 4 * int(rng.poisson(1.0)) - 6), batches + 1
        lengths.append(batches)
    chain = average_run_length(1.0, k=6, h=12, unit=4)
    assert chain == pytest.approx(np.mean(lengths), abs=float(4 * np.std(lengths) / math.sqrt(len(lengths))))


@pytest.mark.parametrize("mean", [0.05, 0.1, 0.3, 1.0, 3.0, 10.0])
def test_false_alarms_are_a_thousand_batches_apart(mean: float) -> None:
    """By the chain on a grid so fine that it has the reference value in use; a doubled rate is found far sooner."""
    unit = 300 if mean < 1 else 100
    k, h = round(unit * reference(mean)), math.ceil(unit * decision_limit(mean))
    assert average_run_length(mean, k, h, unit) >= FEWEST_BATCHES
    assert average_run_length(RATIO * mean, k, h, unit) < FEWEST_BATCHES / 8


def test_false_alarms_are_as_rare_in_batches_of_many_sizes() -> None:
    """400 taps of 60 batches of 10 to 100 holes at the usual rate: fewer alarms than 24 in 24,000 batches allow."""
    rng = np.random.default_rng(2)
    alarms = 0
    for _ in range(400):
        holes = rng.integers(10, 100, 60)
        own = [Batch(int(n), int(rng.poisson(0.02 * n))) for n in holes]
        alarms += any((found := watch(own[: end + 1], PEERS)) is not None and found.alarms for end in range(60))
    assert alarms <= 24 + 2 * math.sqrt(24)


def test_a_rise_alarms_and_tells_what_was_counted() -> None:
    """Twenty usual batches, then three with many slips."""
    usual = [Batch(50, 1)] * 20
    found = watch([*usual, Batch(50, 5), Batch(50, 4), Batch(50, 6)], PEERS)
    assert found is not None
    assert found.alarms
    assert (15, 150) == (found.slips, found.holes)
    assert found.usual == pytest.approx(3.0, rel=0.1)
    quiet = watch(usual, PEERS)
    assert quiet is not None
    assert not quiet.alarms


def test_a_tap_that_always_slipped_more_does_not_alarm_for_ever() -> None:
    """Against its own past it does not rise; its peers alone would call it bad."""
    always = watch([Batch(50, slips) for slips in (1, 2, 2, 1, 2, 3, 2, 2, 2, 3, 2, 2, 3, 2) * 2], PEERS)
    assert always is not None
    assert not always.alarms


@pytest.mark.parametrize(
    ("own", "peers"), [([], PEERS), ([Batch(50, 9)], Batch(10_000, 4)), ([Batch(5, 1)], Batch(1, 0))]
)
def test_too_little_is_a_result(own: list[Batch], peers: Batch) -> None:
    """No batch, or peers that hardly slipped."""
    assert watch(own, peers) is None


@settings(max_examples=30)
@given(st.lists(st.integers(1, 200), min_size=1, max_size=30))
def test_without_slips_nothing_alarms(holes: list[int]) -> None:
    """However long."""
    found = watch([Batch(number, 0) for number in holes], PEERS)
    assert found is not None
    assert (0.0, False) == (found.score, found.alarms)


def test_a_batch_without_holes_is_refused() -> None:
    """It names the field."""
    with pytest.raises(InputError, match="holes"):
        watch([Batch(0, 0)], PEERS)
