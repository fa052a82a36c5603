"""Backups under load, the short form of `tests.soak.backups_under_load`."""

from __future__ import annotations

from pathlib import Path

from tests.soak.backups_under_load import measure


def test_each_backup_under_load_is_a_prefix_of_the_log(sqlite_url: str, tmp_path: Path) -> None:
    """At three random moments: no acknowledged run is missing, and no client's run without those before it."""
    figures = measure(sqlite_url, tmp_path, 3)
    assert (3, 0, 0, True) == (figures.moments, figures.lost, figures.gaps, figures.runs > 0)
