"""`python -m seed --out FOLDER`: write the invented shop's log and its truth as files."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from datetime import UTC, date, datetime, time
from pathlib import Path

from seed.export import write_files
from seed.simulate import DEFAULT_MONTHS, DEFAULT_SEED, DEFAULT_ZONE, simulate


def reference_moment(day: date) -> datetime:
    """The moment that a reference date stands for: its start in the shop's time zone, before any work."""
    return datetime.combine(day, time.min, DEFAULT_ZONE)


def main(arguments: Sequence[str] | None = None) -> None:
    """Read the command line and write the files."""
    parser = argparse.ArgumentParser(prog="python -m seed", description="Write an invented shop's log as CSV files.")
    parser.add_argument("--out", type=Path, required=True, help="folder for the files")
    parser.add_argument(
        "--today",
        type=date.fromisoformat,
        help="the log ends with the last shift before this day, like 2026-11-25; default: an hour ago",
    )
    parser.add_argument("--seed", type=int, default=DEFAULT_SEED, help="another number gives another history")
    parser.add_argument("--months", type=int, default=DEFAULT_MONTHS, help="length of the log")
    chosen = parser.parse_args(arguments)
    today = reference_moment(chosen.today) if chosen.today else datetime.now(UTC)
    files = write_files(simulate(today, chosen.seed, chosen.months), chosen.out)
    parser.exit(message=f"{len(files)} files written to {chosen.out}\n")


if __name__ == "__main__":
    main()
