"""PostgreSQL and a server are killed while clients log, the short form of `tests.soak.killed_processes`."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.soak.killed_processes import measure


@pytest.mark.postgres
@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is POSIX")
def test_every_acknowledged_run_is_stored_once(tmp_path: Path) -> None:
    """PostgreSQL, then the server; how an estimator dies is tested beside its lease."""
    figures = measure("postgresql", tmp_path, 2)
    assert {"postgresql": 1, "server": 1, "estimator": 0} == figures.kills
    assert (0, 0, 0) == (figures.lost, figures.strange, figures.miscounted)
    assert 0 < figures.acknowledged
