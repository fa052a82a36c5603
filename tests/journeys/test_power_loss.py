"""The power fails while clients log, the short form of `tests.soak.power_loss`."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.soak.power_loss import less_careful, measure

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="looks at what SQLite writes, by the library of Linux")


def test_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    """At nine random moments: every database is whole and holds what was acknowledged until then."""
    figures = measure(tmp_path, 1, 9)
    assert (9, 0, 0, 0) == (figures.failures, figures.lost, figures.broken, figures.strange)
    assert 0 < figures.acknowledged


def test_what_is_lost_would_be_found(tmp_path: Path) -> None:
    """Synced at checkpoints only, as once: runs are missing, though the database is whole."""
    with less_careful():
        figures = measure(tmp_path, 1, 9)
    assert (True, 0) == (figures.lost > 0, figures.broken)
