"""A small log with every kind of end in it, to be worked out."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from sqlalchemy import select

from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.vocabulary import TapEnd
from shopfloor.services.advice.life_book import Advice, LifeBook
from shopfloor.services.ledger.taps import fit_tap, receive_tap
from shopfloor.services.runs.runs import log_run
from shopfloor.store import EstimateGeneration, EstimatePart
from tests.factories import Shop

BAND = "6.3-10 m/min"
EXACT = CuttingConditions(1, 1, BAND)


def log(shop: Shop, tap: str, holes: int, slips: int = 0, **changes: Any) -> None:
    """A run, half an hour after the last."""
    shop.clock.move(minutes=30)
    log_run(shop.work, shop.entry(tap=tap, holes=holes, cutting_slips=slips, rpm=300, **changes))


def lives(shop: Shop, taps: int = 12) -> None:
    """Taps that broke soon after slipping, and others that lasted, in two materials; T1 is in the arm after 100."""
    for n in range(taps):
        tap, slips = receive_tap(shop.work, None, "M8 SP", "bo"), n % 2
        for run in range(1 if slips else 3):
            log(shop, tap, 50 + n, 6 * slips, job="J2" if run == 1 else "J1")
        log(shop, tap, 50, 6 * slips, **({"tap_end": TapEnd.WORN} if n % 4 == 2 else broken(10 + n)))
    fit_tap(shop.work, "T1", "arm", "ada")
    log(shop, "T1", 60, 3)
    log(shop, "T1", 40, 1, job="J2")


def broken(hole: int) -> dict[str, Any]:
    """What a run says whose tap broke at this hole."""
    return {"tap_end": TapEnd.BROKEN, "broke_at_hole": hole}


def kept(shop: Shop) -> tuple[list[int], dict[tuple[str, int], bytes | None]]:
    """The numbers of the generations that are there, and the parts by name and first generation."""
    with shop.work.read() as session:
        numbers = list(session.scalars(select(EstimateGeneration.number).order_by(EstimateGeneration.number)))
        parts = session.execute(select(EstimatePart.name, EstimatePart.since, EstimatePart.body))
        return numbers, {(name, since): body for name, since, body in parts}


def newest(shop: Shop) -> dict[str, bytes | None]:
    """The parts of the newest generation."""
    _, parts = kept(shop)
    return {name: parts[name, since] for name, since in sorted(parts)}


def said(shop: Shop) -> tuple[Any, ...]:
    """What the book says of M8 taps in steel: advice and fits, what T1 was used on, and its slips."""
    with shop.work.read() as session:
        book = LifeBook.open(shop.work, session)
        advice, group = book.advice(EXACT), book.group(EXACT)
        assert group is not None
        past, slips = book.past(1, 0), book.slips(1, 0)
        fits = [group.both.life_interval(0.1), *(one.life_interval(0.1) for one in group.modes.values())]
        risks = [advice.break_risk(60, 50), advice.break_risk(100, 50, past, slips), advice.failed_by([50, 500])]
        return told(advice), group.evidence, fits, past, slips, risks, book.cutting_conditions()


def told(advice: Advice) -> Advice:
    """The advice in plain values alone, when it was worked out apart."""
    return replace(advice, as_of=None, _estimates=None, _session=None)  # type: ignore[arg-type]
