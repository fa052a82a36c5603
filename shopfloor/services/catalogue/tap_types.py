"""New tap types, so that a crib can start from scratch."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.input.codes import written_code
from shopfloor.core.input.reader import Reader, shown
from shopfloor.core.input.run_entry import LONGEST_CODE, LONGEST_NAME
from shopfloor.core.input.thread_text import thread_text
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import Chamfer, Substrate, TapStyle
from shopfloor.services.record.codes import fill_in, find_in, problems_of_new
from shopfloor.services.record.life_summaries import refresh
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import Tap, TapType

LONGEST_LEAD_DAYS = 730
DEAREST_TAP = Decimal("100000")


@tried_again
def add_tap_type(work: Work, raw: Mapping[str, object], by: str | None = None) -> str:
    """Add a tap type from what a person typed, or complete one that an import made; returns its code.

    Parameters
    ----------
    raw : mapping    code and thread; optional style, chamfer, substrate, coating, supplier, unit_cost, lead_time_days,
                     bin, which may differ from the one on record

    Raises
    ------
    InputError    every problem found, each naming its field
    """
    reader = Reader(raw)
    code = reader.text("code", longest=LONGEST_CODE, required=True) or ""
    values = read_tap_type(reader)
    with work.write(by) as session:
        kind = find_in(session, TapType, code)
        if kind is None and code:
            reader.problems += problems_of_new(session, TapType, code, "code")
        reader.finish()
        if kind is None:
            kind = TapType(code=written_code(code), **values)
            session.add(kind)
        else:
            _complete(session, kind, values)
        return kind.code


def _complete(session: Session, kind: TapType, values: Mapping[str, object]) -> None:
    problems: list[Problem] = []
    # The bin may change; what the taps are does not.
    moved_to = values["bin"] not in (None, kind.bin)
    what_it_is = {name: value for name, value in values.items() if name != "bin"}
    if not fill_in(kind, what_it_is, problems) and not moved_to:
        raise InputError.of(
            "code",
            phrase("{code} is taken", code=shown(kind.code)),
            "give a code that no tap type has, or change that tap type",
        )
    if problems:
        raise InputError(problems)
    if moved_to:
        kind.bin = str(values["bin"])
    session.flush()
    thread_changed(session, kind.id)


def thread_changed(session: Session, kind: int) -> None:
    """The thread tells the diameter, and with it the speed band of every hole that such taps have made."""
    refresh(session, list(session.scalars(select(Tap.id).where(Tap.tap_type_id == kind))))


@dataclass(frozen=True)
class ListedType:
    """One line of the list of tap types."""

    code: str
    thread: str | None
    supplier: str | None
    unit_cost: Decimal | None
    lead_time_days: int | None
    bin: str | None


def tap_types(work: Work) -> list[ListedType]:
    """Every tap type, by code."""
    kind = TapType
    columns = (kind.code, kind.thread, kind.supplier, kind.unit_cost, kind.lead_time_days, kind.bin)
    with work.read() as session:
        return [ListedType(*row) for row in session.execute(select(*columns).order_by(kind.code))]


def tap_type_codes(work: Work) -> list[str]:
    """Every tap type's code, in order."""
    with work.read() as session:
        return list(session.scalars(select(TapType.code).order_by(TapType.code)))


def read_tap_type(reader: Reader) -> dict[str, object]:
    """The fields of a tap type except its code; problems are left with the reader."""
    return {
        "thread": thread_text(reader, "thread", required=True),
        "style": reader.word("style", TapStyle),
        "chamfer": reader.word("chamfer", Chamfer),
        "substrate": reader.word("substrate", Substrate),
        "coating": reader.text("coating", longest=LONGEST_CODE),
        "supplier": reader.text("supplier", longest=LONGEST_NAME),
        "unit_cost": _cost(reader),
        "lead_time_days": reader.whole("lead_time_days", 0, LONGEST_LEAD_DAYS),
        "bin": reader.text("bin", longest=LONGEST_CODE),
    }


def _cost(reader: Reader) -> Decimal | None:
    text = reader.text("unit_cost", longest=LONGEST_CODE)
    if text is None:
        return None
    if re.fullmatch(r"[1-9][0-9]{0,2}[.,][0-9]{3}", text):
        # Prices have at most two decimals, so three digits could be meant as decimals or as thousands.
        what = phrase("{text} can be read in two ways", text=shown(text))
        whole = re.sub("[.,]", "", text)
        reader.problem("unit_cost", what, phrase("write {whole}, or at most two decimals", whole=whole))
        return None
    try:
        cost = Decimal(re.sub(r",(?=[0-9]{1,2}$)", ".", text))
    except InvalidOperation:
        cost = Decimal("NaN")
    if not cost.is_finite() or not 0 <= cost <= DEAREST_TAP or cost != cost.quantize(Decimal("0.01")):
        reader.problem(
            "unit_cost",
            phrase("{text} is not a price", text=shown(text)),
            phrase("give 0 to {dearest_tap} with at most two decimals", dearest_tap=int(DEAREST_TAP)),
        )
    return cost
