"""Generations of kept estimates: the newest one, its parts, and putting a new one in place."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import delete, func, insert, select, update
from sqlalchemy.orm import Session, aliased

from shopfloor.store import EstimateGeneration, EstimatePart

KEPT = 5
"""Number of generations that stay: a page that began with one still finds all its parts."""


class Generation(NamedTuple):
    """A kept generation, and the mark of the log that it was worked out from."""

    number: int
    made_at: datetime
    log_mark: str


def newest_generation(session: Session, written_as: int) -> Generation | None:
    """The newest generation, if its parts are written in this way."""
    columns = (EstimateGeneration.number, EstimateGeneration.made_at, EstimateGeneration.log_mark)
    newest = select(*columns, EstimateGeneration.written_as).order_by(EstimateGeneration.number.desc()).limit(1)
    row = session.execute(newest).first()
    return None if row is None or row.written_as != written_as else Generation(*row[:3])


def part_since(session: Session, name: str, number: int) -> int | None:
    """The generation since which a part is as it is in this one; None where there is no such part."""
    query = select(EstimatePart.since).where(EstimatePart.name == name, EstimatePart.since <= number)
    return session.scalar(query.order_by(EstimatePart.since.desc()).limit(1))


def part_of(session: Session, name: str, number: int) -> tuple[int, bytes]:
    """A part of this generation, and the generation since which it is as it is.

    Of a generation that was deleted meanwhile, the oldest one that is still there takes the place.

    Raises
    ------
    LookupError    there is no such part
    """
    query = select(EstimatePart.since, EstimatePart.body).where(EstimatePart.name == name)
    newest = query.where(EstimatePart.since <= number).order_by(EstimatePart.since.desc()).limit(1)
    row = session.execute(newest).first() or session.execute(query.order_by(EstimatePart.since).limit(1)).first()
    if row is None or row.body is None:
        raise LookupError(f"generation {number} has no part '{name}'")
    return row.since, row.body


def keep_generation(
    session: Session, made_at: datetime, written_as: int, log_mark: str, parts: Mapping[str, bytes]
) -> int:
    """Store a generation, of its parts only those that changed, and delete what is too old; returns its number.

    The caller holds the estimator's lease, so nobody else takes the same number.
    """
    last = session.scalar(select(func.max(EstimateGeneration.number))) or 0
    number = last + 1
    before = _parts_of(session, last)
    changed = {name: body for name, body in parts.items() if before.get(name) != body}
    gone = dict.fromkeys(name for name, body in before.items() if body is not None and name not in parts)
    session.execute(
        insert(EstimateGeneration),
        [{"number": number, "made_at": made_at, "written_as": written_as, "log_mark": log_mark}],
    )
    rows = [{"name": name, "since": number, "body": body} for name, body in (changed | gone).items()]
    if rows:
        session.execute(insert(EstimatePart), rows)
    _delete_before(session, number - KEPT + 1)
    return number


def outdate_generations(session: Session) -> None:
    """Let the next generation be due, though the log is as it was; pages use the newest one until then."""
    session.execute(update(EstimateGeneration).values(log_mark=""))


def _parts_of(session: Session, number: int) -> dict[str, bytes | None]:
    """The parts of a generation, by name."""
    latest = (
        select(EstimatePart.name, func.max(EstimatePart.since).label("since"))
        .where(EstimatePart.since <= number)
        .group_by(EstimatePart.name)
        .subquery()
    )
    is_latest = (EstimatePart.name == latest.c.name) & (EstimatePart.since == latest.c.since)
    parts = session.execute(select(EstimatePart.name, EstimatePart.body).join(latest, is_latest))
    return {row.name: row.body for row in parts}


def _delete_before(session: Session, oldest: int) -> None:
    """Delete generations older than this one, and the parts that only they had."""
    later = aliased(EstimatePart)
    is_replaced = (
        select(later.since)
        .where(later.name == EstimatePart.name, later.since > EstimatePart.since, later.since <= oldest)
        .exists()
    )
    session.execute(delete(EstimatePart).where(is_replaced).execution_options(synchronize_session=False))
    session.execute(delete(EstimateGeneration).where(EstimateGeneration.number < oldest))
