"""Facts of the shop that travel with its record: whether it is the demo, its time zone, what it counts a life in."""

from __future__ import annotations

from dataclasses import replace

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from shopfloor.core.vocabulary import LifeMeasure
from shopfloor.services.record.work import Work
from shopfloor.store import ShopFact
from shopfloor.store.queries.threaded import LIFE_COUNTED_IN, life_measure

_DEMO, _TIME_ZONE = "demo", "time zone"


def mark_as_demo(session: Session, time_zone: str) -> None:
    """Say in the record itself that it is a demonstration, so that no page can show it as the shop's own."""
    session.execute(insert(ShopFact), [{"name": _DEMO, "value": "yes"}, {"name": _TIME_ZONE, "value": time_zone}])


def is_demo(work: Work) -> bool:
    """Whether the record is a demonstration."""
    return _facts(work).get(_DEMO) == "yes"


def with_facts(work: Work) -> Work:
    """The work with what the record itself says of the shop on top of the settings."""
    facts = _facts(work)
    time_zone = facts.get(_TIME_ZONE, work.settings.time_zone)
    return replace(work, settings=replace(work.settings, is_demo=facts.get(_DEMO) == "yes", time_zone=time_zone))


def life_counted_in(work: Work) -> LifeMeasure:
    """What the shop counts a tap's life in."""
    with work.read() as session:
        return life_measure(session)


def count_life_in(work: Work, measure: LifeMeasure, by: str | None = None) -> None:
    """From now on every suggestion counts so; what is on record stays as it is."""
    with work.write(by) as session:
        session.merge(ShopFact(name=LIFE_COUNTED_IN, value=measure.value))


def _facts(work: Work) -> dict[str, str]:
    with work.read() as session:
        return {fact.name: fact.value for fact in session.scalars(select(ShopFact))}
