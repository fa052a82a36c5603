"""What the tool crib books: deliveries, movements of single taps, and counts of the box of unmarked taps.

Unmarked taps in stock are the ledger's balance less the marked taps whose newest movement brought them in; no more than
those can be booked out. A tap in somebody's hand is never refused: if that leaves fewer, the pages ask for a count.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import Conflict, InputError
from shopfloor.core.input.crib_entries import MOST_AT_ONCE, Delivery
from shopfloor.core.input.plausibility import Odd, ask_back, doubt_of_taps
from shopfloor.core.input.stored_phrases import lot_note
from shopfloor.core.phrases import Phrase, joined, phrase, phrase_of
from shopfloor.core.vocabulary import MovementKind, Role, TapState
from shopfloor.services.ledger.taps import last_movement, move, new_tap, person_and_type, present_life, tap_and_person
from shopfloor.services.record.life_summaries import refresh
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import Person, StockMovement, Tap, TapLife, TapType
from shopfloor.store.engine import hold
from shopfloor.store.queries.log import counts
from shopfloor.store.queries.stock import balance_of, marked_in_crib

_MOST_NAMED = 20

_ALIVE = (TapState.UNUSED, TapState.IN_SERVICE)
_REGRINDABLE = (TapState.WORN, TapState.CHIPPED, TapState.RETIRED_EARLY)
_GONE = (MovementKind.SCRAPPED, MovementKind.LOST)


@tried_again
def receive(work: Work, delivery: Delivery, by: str, sure: str | None = None) -> list[str]:
    """Book a delivery once, however often it is sent; returns the codes of the taps that have one.

    `sure` says which odd number was confirmed, in the form of `ask_back`; None: nobody is there to ask.

    Raises
    ------
    Doubtful      a number has to be confirmed first; nothing is stored then
    InputError    unknown codes, a code that is taken, numbers out of range
    Conflict      another movement has this id
    """
    with work.write(by) as session:
        person, kind = person_and_type(session, by, delivery.tap_type)
        stored = session.get(StockMovement, delivery.id)
        if stored is not None:
            _same_movement(stored, kind=MovementKind.RECEIVED, tap_type_id=kind.id)
            return _codes_received(session, delivery)
        if sure is not None and not delivery.codes:
            ask_back(doubt_of_taps(delivery.number, _last_delivery(session, kind), Odd.MANY_TAPS), sure)
        if not delivery.codes and delivery.holes_before == 0:
            _check_number(delivery.number, 1)
            note = lot_note(delivery.lot, delivery.note)
            _book(session, work, delivery.id, kind, MovementKind.RECEIVED, delivery.number, person, note)
            return []
        codes: Sequence[str | None] = delivery.codes or [None] * _check_number(delivery.number, 1)
        taps = [new_tap(session, work, code, kind, delivery.holes_before, delivery.lot) for code in codes]
        for id_, tap in zip(_ids_of(delivery, len(taps)), taps, strict=True):
            move(session, work, tap, MovementKind.RECEIVED, person, movement_id=id_, note=delivery.note)
        refresh(session, {tap.id for tap in taps})
        return [tap.code for tap in taps]


def _last_delivery(session: Session, kind: TapType) -> int | None:
    """The number of unmarked taps in the last delivery of this type."""
    query = select(StockMovement.quantity).where(
        StockMovement.tap_type_id == kind.id,
        StockMovement.tap_id.is_(None),
        StockMovement.kind == MovementKind.RECEIVED,
        counts(StockMovement),
    )
    return session.scalar(query.order_by(StockMovement.moved_at.desc(), StockMovement.recorded_at.desc()).limit(1))


def _ids_of(delivery: Delivery, taps: int) -> list[uuid.UUID]:
    """An id for each tap's movement; the first is the delivery's own, by which a repeat is recognised."""
    return [delivery.id, *(uuid.uuid5(delivery.id, str(n)) for n in range(1, taps))]


def _codes_received(session: Session, delivery: Delivery) -> list[str]:
    """The codes given to the taps of a delivery when it was booked."""
    ids = _ids_of(delivery, len(delivery.codes) or _check_number(delivery.number, 1))
    codes = select(Tap.code).join(StockMovement, StockMovement.tap_id == Tap.id).where(StockMovement.id.in_(ids))
    return list(session.scalars(codes.order_by(Tap.id)))


def possible_moves(life: TapLife, last: MovementKind | None) -> tuple[MovementKind, ...]:
    """The movements that can be booked for a tap in this state whose newest movement was of that kind."""
    if last in _GONE or life.state is TapState.LOST:
        return ()
    is_away = last is MovementKind.SENT_TO_REGRIND
    is_alive = life.state in _ALIVE
    allowed = {
        MovementKind.RETURNED: is_alive and life.placed_at is not None,
        MovementKind.SENT_TO_REGRIND: not is_away and life.state in (TapState.IN_SERVICE, *_REGRINDABLE),
        MovementKind.REGROUND: life.state in _REGRINDABLE,
        MovementKind.SCRAPPED: True,
        MovementKind.LOST: is_alive or is_away,
    }
    return tuple(kind for kind, is_allowed in allowed.items() if is_allowed)


@tried_again
def move_tap(
    work: Work, movement_id: uuid.UUID, tap_code: str, kind: MovementKind, by: str, *, note: str | None = None
) -> None:
    """Book a movement of one tap; the same movement sent twice is stored once.

    Raises
    ------
    InputError    unknown codes
    Conflict      the movement is not possible in the tap's present state, or another movement has this id
    """
    with work.write() as session:
        tap, person = tap_and_person(session, tap_code, by)
        hold(session, Tap, {tap.id})
        stored = session.get(StockMovement, movement_id)
        if stored is not None:
            _same_movement(stored, kind=kind, tap_id=tap.id)
            return
        life, last = present_life(session, tap), last_movement(session, tap)
        if kind not in possible_moves(life, None if last is None else last.kind):
            what = phrase(
                "{code} is {standing} and cannot be '{kind}'",
                code=tap.code,
                standing=_standing(life, last),
                kind=kind.label.lower(),
            )
            raise Conflict.of("movement", what, "open the tap again and choose what is offered")
        move(session, work, tap, kind, person, life.station_id, movement_id=movement_id, note=note)
        refresh(session, {tap.id})


@tried_again
def book_box(
    work: Work,
    movement_id: uuid.UUID,
    tap_type: str,
    kind: MovementKind,
    number: int,
    by: str,
    note: str | None = None,
    sure: str | None = None,
) -> None:
    """Book a count of one tap type, or unmarked taps that left the box; the same entry sent twice is stored once.

    Parameters
    ----------
    kind      COUNTED: `number` ready taps are in the crib, whatever the ledger says; SCRAPPED or LOST: `number` left
    sure      which odd number was confirmed, in the form of `ask_back`; None: nobody is there to ask

    Raises
    ------
    Doubtful      a number has to be confirmed first; nothing is stored then
    InputError    unknown codes, a number out of range
    Conflict      more are to leave than lie in the box by the ledger, fewer are counted than the crib has marked taps,
                  or another movement has this id
    """
    with work.write() as session:
        person, row = person_and_type(session, by, tap_type)
        hold(session, TapType, {row.id})
        stored = session.get(StockMovement, movement_id)
        if stored is not None:
            _same_movement(stored, kind=kind, tap_type_id=row.id)
            return
        balance, marked = balance_of(session, row.id), marked_in_crib(session, row.id)
        if kind is MovementKind.COUNTED:
            change = _check_number(number, 0) - balance
            _marked_taps_are_counted(number, marked)
            if sure is not None:
                ask_back(doubt_of_taps(number, balance, Odd.BEYOND_LEDGER), sure)
        else:
            change = -_check_number(number, 1)
            _box_holds(number, balance, marked)
        _book(session, work, movement_id, row, kind, change, person, note)


def _marked_taps_are_counted(number: int, marked: Sequence[str]) -> None:
    """Refuse a count that would make taps with a code of their own vanish; raises Conflict."""
    if number < len(marked):
        what = phrase("{number} counted, but {marked}", number=number, marked=_marked(marked))
        raise Conflict.of("number", what, "count them too; record on each missing one's page what became of it")


def _box_holds(number: int, balance: int, marked: Sequence[str]) -> None:
    """Refuse to book out more unmarked taps than the ledger has; raises Conflict."""
    unmarked = balance - len(marked)
    if number <= unmarked:
        return
    if not marked:
        what = phrase(
            "{number} are to leave but the ledger has {stock} in the crib", number=number, stock=max(0, balance)
        )
        raise Conflict.of("number", what, "count the box first")
    what = phrase(
        "{number} are to leave, but {stock} are unmarked by the ledger; {marked}",
        number=number,
        stock=max(0, unmarked),
        marked=_marked(marked),
    )
    raise Conflict.of("number", what, "record on each marked tap's page what became of it, or count the box first")


def _marked(codes: Sequence[str]) -> Phrase:
    """'1 marked tap lies in the crib (T4)', '40 marked taps lie in the crib (T1, T2, ...)'."""
    named = ", ".join(codes[:_MOST_NAMED]) + (", ..." if len(codes) > _MOST_NAMED else "")
    return phrase_of(
        len(codes),
        "{n} marked tap lies in the crib ({codes})",
        "{n} marked taps lie in the crib ({codes})",
        n=len(codes),
        codes=named,
    )


def people(work: Work) -> list[tuple[str, str]]:
    """Code and name of everybody who may book a movement, crib staff first."""
    with work.read() as session:
        rows = session.scalars(select(Person).order_by(Person.name)).all()
        rows = sorted(rows, key=lambda row: all(role.role is not Role.CRIB for role in row.roles))
        return [(row.code, row.name) for row in rows]


def _same_movement(stored: StockMovement, **said: object) -> None:
    if any(getattr(stored, name) != value for name, value in said.items()):
        raise Conflict.of("id", "it is used by another movement", "open the page again")


def _standing(life: TapLife, last: StockMovement | None) -> Phrase:
    words = [life.state.label.lower()]
    if last is not None and last.kind in (MovementKind.SENT_TO_REGRIND, *_GONE):
        words.append(last.kind.label.lower())
    return joined(dict.fromkeys(words))


def _check_number(number: int, least: int) -> int:
    if not least <= number <= MOST_AT_ONCE:
        raise InputError.of(
            "number",
            phrase("{number} is out of range", number=number),
            phrase("give a number from {least} to {most}", least=least, most=MOST_AT_ONCE),
        )
    return number


def _book(
    session: Session,
    work: Work,
    movement_id: uuid.UUID,
    kind_of_tap: TapType,
    kind: MovementKind,
    quantity: int,
    person: Person,
    note: str | None,
) -> None:
    """A movement of taps without a code."""
    now = work.clock()
    session.add(
        StockMovement(
            id=movement_id,
            recorded_at=now,
            recorded_by_id=person.id,
            moved_at=now,
            kind=kind,
            tap_type_id=kind_of_tap.id,
            quantity=quantity,
            person_id=person.id,
            note=note,
        )
    )
