"""What a generation of estimates costs: `python -m tests.bench.bench_estimates [--runs N]`.

Prints, for a simulated log of N runs (100,000 unless told otherwise) on SQLite, CPU and wall seconds: to see that
nothing is new, to work out a generation and each of its parts, and to read it in a server's first page and again; then
the bytes that the generation takes, and the largest memory of the process.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.orm import Session

from shopfloor.services.advice.estimates import LogEstimates, current, forget
from shopfloor.services.advice.estimator import drawn_of, make_generation, policies_of
from shopfloor.services.advice.kept_parts import parts_of
from shopfloor.services.advice.lag import is_due
from shopfloor.services.advice.worked_out import WorkedOut
from shopfloor.services.record.work import Work
from shopfloor.store.queries.log_mark import log_mark
from tests.bench.bench_record import make


@contextmanager
def timed(label: str) -> Iterator[None]:
    """Print CPU and wall seconds of the block."""
    start, at_work = time.perf_counter(), time.process_time()
    yield
    print(f"{label:<40} {time.process_time() - at_work:8.3f} CPU s {time.perf_counter() - start:8.3f} s", flush=True)


def bench_parts(work: Work, session: Session) -> None:
    """Each step of a generation."""
    with timed("look whether anything is new"):
        log_mark(session)
    with timed("read all stretches of lives"):
        log = WorkedOut(session, work.settings)
    estimates = LogEstimates(log)
    with timed("the posterior of each mode"):
        log.known(session)
    with timed("what slips foretell"):
        log.slip_model(session)
    with timed("draws by condition"):
        drawn = drawn_of(session, estimates)
    with timed("ages to change at"):
        policies = policies_of(work, session, estimates)
    with timed("lives by condition, and all as bytes"):
        parts = parts_of(session, log, drawn, policies)
    print(f"bytes {sum(map(len, parts.values())):,} in {len(parts)} parts")


def bench_reading(work: Work) -> None:
    """What a page reads of a generation, the first time and again."""
    forget()
    for label in ("first page", "second page"):
        with work.read() as session, timed(f"read the generation, {label}"):
            found = current(session, work.settings)
            for read in (found.there.known, found.there.drawn, found.there.policies):
                read(session)


def main() -> None:
    """Run it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=100_000)
    with tempfile.TemporaryDirectory() as folder:
        work = make(Path(folder), parser.parse_args().runs)
        with work.read() as session:
            bench_parts(work, session)
        with timed("a whole generation"):
            make_generation(work)
        with timed("see that it knows everything"):
            assert not is_due(work)
        bench_reading(work)
        print(f"largest memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
        work.close()


if __name__ == "__main__":
    main()
