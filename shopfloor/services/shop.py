"""Facts about the shop stored in its record: whether it is the demo, its time zone, how it measures tap life."""

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
    """Mark the record as a demonstration, so that no page can pass it off as the shop's own."""
    session.execute(insert(ShopFact), [{"name": _DEMO, "value": "yes"}, {"name": _TIME_ZONE, "value": time_zone}])


def is_demo(work: Work) -> bool:
    """Whether the record is a demonstration."""
    return _facts(work).get(_DEMO) == "yes"


def with_facts(work: Work) -> Work:
    """The same work, with what the record says about the shop overriding the settings."""
    facts = _facts(work)
    time_zone = facts.get(_TIME_ZONE, work.settings.time_zone)
    return replace(work, settings=replace(work.settings, is_demo=facts.get(_DEMO) == "yes", time_zone=time_zone))


def life_counted_in(work: Work) -> LifeMeasure:
    """What the shop measures tap life in."""
    with work.read() as session:
        return life_measure(session)


def count_life_in(work: Work, measure: LifeMeasure, by: str | None = None) -> None:
    """Use this measure for every suggestion from now on; the record itself does not change."""
    with work.write(by) as session:
        session.merge(ShopFact(name=LIFE_COUNTED_IN, value=measure.value))


def _facts(work: Work) -> dict[str, str]:
    with work.read() as session:
        return {fact.name: fact.value for fact in session.scalars(select(ShopFact))}
