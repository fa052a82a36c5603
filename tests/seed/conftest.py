"""Simulated logs that the tests here share; nobody changes them."""

from __future__ import annotations

import random
from datetime import UTC, datetime

import pytest

from seed.simulate import Scenario, simulate

TODAY = datetime(2026, 11, 25, 19, 30, tzinfo=UTC)


def seeded(seed: int) -> random.Random:
    """Chance that is the same in every run."""
    return random.Random(seed)  # noqa: S311 - nothing here is secret


@pytest.fixture(scope="session")
def scenario() -> Scenario:
    """The demo shop's log as of a Wednesday afternoon."""
    return simulate(TODAY)


@pytest.fixture(scope="session")
def many() -> tuple[Scenario, ...]:
    """Six other histories of the same shop: together they hold enough failures to tell causes from chance."""
    return tuple(simulate(TODAY, seed) for seed in range(101, 107))
