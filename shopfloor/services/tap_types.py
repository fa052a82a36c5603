"""New kinds of tap, so that a crib can start from nothing."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation

from sqlalchemy import select

from shopfloor.core.entries import LONGEST_CODE, LONGEST_NAME
from shopfloor.core.errors import InputError
from shopfloor.core.reading import Reader, shown
from shopfloor.core.threads import find_thread
from shopfloor.core.vocabulary import Chamfer, Substrate, TapStyle
from shopfloor.services.codes import find_in
from shopfloor.services.work import Work, tried_again
from shopfloor.store import TapType

LONGEST_LEAD_DAYS = 730
DEAREST_TAP = Decimal("100000")


@tried_again
def add_tap_type(work: Work, raw: Mapping[str, object]) -> str:
    """Add a tap type from what a person typed; returns its code.

    Parameters
    ----------
    raw : mapping    code and thread; optional style, chamfer, substrate, coating, supplier, unit_cost, lead_time_days

    Raises
    ------
    InputError    every problem found, each naming its field
    """
    kind = _read(raw)
    with work.write() as session:
        if find_in(session, TapType, kind.code) is not None:
            raise InputError.of("code", f"{shown(kind.code)} is taken", "give a code that no tap type has")
        session.add(kind)
        return kind.code


def tap_type_codes(work: Work) -> list[str]:
    """Every tap type's code, in order."""
    with work.read() as session:
        return list(session.scalars(select(TapType.code).order_by(TapType.code)))


def _read(raw: Mapping[str, object]) -> TapType:
    reader = Reader(raw)
    kind = TapType(
        code=reader.text("code", longest=LONGEST_CODE, required=True),
        thread=_thread(reader),
        style=reader.word("style", TapStyle),
        chamfer=reader.word("chamfer", Chamfer),
        substrate=reader.word("substrate", Substrate),
        coating=reader.text("coating", longest=LONGEST_CODE),
        supplier=reader.text("supplier", longest=LONGEST_NAME),
        unit_cost=_cost(reader),
        lead_time_days=reader.whole("lead_time_days", 0, LONGEST_LEAD_DAYS),
    )
    reader.finish()
    return kind


def _thread(reader: Reader) -> str | None:
    text = reader.text("thread", longest=LONGEST_CODE, required=True)
    if text is not None and find_thread(text) is None:
        reader.problem("thread", f"{shown(text)} is no thread designation", "write it like 3/8-16, #10-32 or M8x1")
    return text


def _cost(reader: Reader) -> Decimal | None:
    text = reader.text("unit_cost", longest=LONGEST_CODE)
    if text is None:
        return None
    try:
        cost = Decimal(text)
    except InvalidOperation:
        cost = Decimal("NaN")
    if not cost.is_finite() or not 0 <= cost <= DEAREST_TAP or cost != cost.quantize(Decimal("0.01")):
        reader.problem(
            "unit_cost", f"{shown(text)} is no price", f"give 0 to {DEAREST_TAP:,} with at most two decimals"
        )
    return cost
