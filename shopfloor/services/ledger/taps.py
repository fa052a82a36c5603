"""Receive, fit and remove taps: what happens to a single tap."""

from __future__ import annotations

import re
import uuid
from datetime import datetime, timedelta
from functools import partial

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import Conflict, InputError, Problem
from shopfloor.core.input.codes import written_code
from shopfloor.core.input.reader import shown
from shopfloor.core.input.run_entry import LONGEST_CODE
from shopfloor.core.input.tap_entry import MOST_HOLES_BEFORE
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import COMES_IN, MovementKind, TapState
from shopfloor.services.record.codes import find_in, look_up, must_be_new
from shopfloor.services.record.life_summaries import refresh
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import Person, Station, StockMovement, Tap, TapLife, TapType
from shopfloor.store.engine import hold
from shopfloor.store.queries.log import counts
from shopfloor.store.queries.stock import WITHDRAWN

_CODE_SHAPE = re.compile(r"T(\d{1,9})")
_MOMENT = timedelta(microseconds=1)


@tried_again
def receive_tap(
    work: Work,
    code: str | None,
    tap_type: str,
    by: str,
    *,
    holes_before: int | None = 0,
    lot: str | None = None,
    station: str | None = None,
    receipt: uuid.UUID | None = None,
) -> str:
    """Add one tap to the crib, or directly to a `station`; without a code it gets the next free one.

    Returns the code, even if the tap was already received under the same `receipt` id.

    Raises
    ------
    InputError    unknown type, person or station, a code that is taken, holes out of range
    Conflict      another movement has this id
    """
    with work.write(by) as session:
        person, kind = person_and_type(session, by, tap_type)
        stored = None if receipt is None else session.get(StockMovement, receipt)
        if stored is not None:
            return _booked_before(session, stored, MovementKind.RECEIVED, kind)
        place = None if station is None else _place(session, station)
        tap = new_tap(session, work, code, kind, holes_before, lot)
        # A moment before it is fitted, so that both stay in order even with a coarse clock.
        at = None if place is None else work.clock() - _MOMENT
        move(session, work, tap, MovementKind.RECEIVED, person, movement_id=receipt, at=at)
        refresh(session, {tap.id})
        if place is not None:
            _fit(session, work, tap, place, person)
        return tap.code


def _booked_before(session: Session, stored: StockMovement, moved: MovementKind, kind: TapType) -> str:
    if stored.kind is not moved or stored.tap_type_id != kind.id or stored.tap_id is None:
        raise Conflict.of("id", "another movement is booked under it", "open the page again")
    return session.get_one(Tap, stored.tap_id).code


def _place(session: Session, station: str) -> Station:
    problems: list[Problem] = []
    place: Station | None = look_up(partial(find_in, session), problems, Station, station, "station")
    if place is None:
        raise InputError(problems)
    return place


def fit_tap(work: Work, tap_code: str, station: str, by: str) -> None:
    """Put a tap into a station.

    Raises
    ------
    InputError    unknown codes
    Conflict      the tap's life is over
    """
    with work.write() as session:
        problems: list[Problem] = []
        find = partial(find_in, session)
        tap = look_up(find, problems, Tap, tap_code, "tap")
        place = look_up(find, problems, Station, station, "station")
        person = look_up(find, problems, Person, by, "person")
        if tap is None or place is None or person is None:
            raise InputError(problems)
        hold(session, Tap, {tap.id})
        _fit(session, work, tap, place, person)


@tried_again
def fit_new_tap(
    work: Work,
    tap_type: str,
    station: str,
    by: str,
    *,
    code: str | None = None,
    movement: uuid.UUID | None = None,
) -> str:
    """Take a tap out of the box and put it into a station; an unmarked one is given a code.

    Returns the code, even if the tap was already fitted under the same `movement` id.

    Raises
    ------
    InputError    unknown type, person or station, a code that is taken
    Conflict      another movement has this id
    """
    with work.write(by) as session:
        person, kind = person_and_type(session, by, tap_type)
        place = _place(session, station)
        stored = None if movement is None else session.get(StockMovement, movement)
        if stored is not None:
            return _booked_before(session, stored, MovementKind.ISSUED, kind)
        tap = new_tap(session, work, code, kind, 0, None)
        refresh(session, {tap.id})
        _fit(session, work, tap, place, person, movement)
        return tap.code


def present_life(session: Session, tap: Tap) -> TapLife:
    """The tap's life as it stands now."""
    return session.scalars(select(TapLife).where(TapLife.tap_id == tap.id, TapLife.is_present)).one()


def lies_in_crib(session: Session, tap: Tap) -> bool | None:
    """Whether the ledger has the tap in the crib; None if it does not know the tap, which was never used either."""
    last = last_movement(session, tap)
    if last is not None:
        return last.kind in COMES_IN
    # A tap that was used before the ledger began was never in its stock.
    return False if present_life(session, tap).runs or is_withdrawn(session, tap) else None


def is_withdrawn(session: Session, tap: Tap) -> bool:
    """Whether the tap's receipt was cancelled and the log knows nothing else of it."""
    return session.scalar(select(Tap.id).where(Tap.id == tap.id, WITHDRAWN)) is not None


def last_movement(session: Session, tap: Tap) -> StockMovement | None:
    """The newest movement of the tap that counts."""
    newest = (StockMovement.moved_at.desc(), StockMovement.recorded_at.desc())
    moved = select(StockMovement).where(StockMovement.tap_id == tap.id, counts(StockMovement))
    return session.scalars(moved.order_by(*newest).limit(1)).first()


def move(
    session: Session,
    work: Work,
    tap: Tap,
    kind: MovementKind,
    person: Person,
    station_id: int | None = None,
    *,
    movement_id: uuid.UUID | None = None,
    note: str | None = None,
    at: datetime | None = None,
) -> None:
    """Book one tap's movement; the crib's stock changes only if it brings the tap in or takes it out."""
    now: datetime = work.clock()
    session.add(
        StockMovement(
            id=uuid.uuid4() if movement_id is None else movement_id,
            recorded_at=now,
            recorded_by_id=person.id,
            moved_at=at or now,
            kind=kind,
            tap_type_id=tap.tap_type_id,
            tap_id=tap.id,
            quantity=_change_of_stock(session, tap, kind),
            station_id=station_id,
            person_id=person.id,
            note=note,
        )
    )


def _change_of_stock(session: Session, tap: Tap, kind: MovementKind) -> int:
    if kind is MovementKind.RECEIVED:
        return 1
    in_crib = lies_in_crib(session, tap)
    if kind in COMES_IN:
        return 0 if in_crib else 1
    # A tap from the box was counted in the crib's stock by type, although the ledger does not know it.
    is_taken_out = in_crib is None and kind is MovementKind.ISSUED
    return -1 if in_crib or is_taken_out else 0


def _fit(
    session: Session, work: Work, tap: Tap, place: Station, person: Person, movement: uuid.UUID | None = None
) -> None:
    life = present_life(session, tap)
    if life.state not in (TapState.UNUSED, TapState.IN_SERVICE):
        raise Conflict.of(
            "tap", phrase("{code} is {state}", code=tap.code, state=life.state.label.lower()), "fit another tap"
        )
    move(session, work, tap, MovementKind.ISSUED, person, place.id, movement_id=movement)
    refresh(session, {tap.id})


def new_tap(
    session: Session, work: Work, code: str | None, kind: TapType, holes_before: int | None, lot: str | None
) -> Tap:
    """A new tap, under its own code or the next free one.

    The code of a tap whose receipt was cancelled may be received again.

    Raises
    ------
    InputError    an invalid or taken code, holes out of range
    """
    known = None if code is None else _withdrawn_tap(session, code, kind)
    if holes_before is not None and not 0 <= holes_before <= MOST_HOLES_BEFORE:
        raise InputError.of(
            "holes before",
            phrase("{holes_before} is out of range", holes_before=holes_before),
            phrase("give 0 to {most_holes_before}", most_holes_before=MOST_HOLES_BEFORE),
        )
    # Where another writer takes the next code first, the insert fails and `tried_again` takes the one after.
    tap = known or Tap(code=written_code(code or _next_code(session)), tap_type_id=kind.id, regrinds=0)
    tap.holes_before, tap.lot, tap.received_at = holes_before, lot, work.clock()
    session.add(tap)
    session.flush()
    return tap


def _withdrawn_tap(session: Session, code: str, kind: TapType) -> Tap | None:
    """The tap with this code and type whose receipt was cancelled; None if no tap has the code."""
    if not code.strip() or len(code) > LONGEST_CODE:
        raise InputError.of(
            "tap",
            phrase("{code} is not a code", code=shown(code)),
            phrase("use 1 to {longest_code} characters", longest_code=LONGEST_CODE),
        )
    known = find_in(session, Tap, code)
    if known is not None and (known.tap_type_id != kind.id or not is_withdrawn(session, known)):
        raise InputError.of("tap", phrase("{code} is taken", code=shown(code)), "give a code that no tap has")
    if known is None:
        must_be_new(session, Tap, code, "tap")
    return known


def _next_code(session: Session) -> str:
    """The next of T0001, T0002, ...; codes of other shapes are left alone."""
    numbers = (_CODE_SHAPE.fullmatch(code) for code in session.scalars(select(Tap.code).where(Tap.code.like("T%"))))
    return f"T{max((int(match[1]) for match in numbers if match), default=0) + 1:04d}"


def person_and_type(session: Session, by: str, tap_type: str) -> tuple[Person, TapType]:
    """The rows of both codes.

    Raises
    ------
    InputError    unknown codes
    """
    problems: list[Problem] = []
    find = partial(find_in, session)
    person = look_up(find, problems, Person, by, "person")
    kind = look_up(find, problems, TapType, tap_type, "tap type")
    if person is None or kind is None:
        raise InputError(problems)
    return person, kind


def tap_and_person(session: Session, tap_code: str, by: str) -> tuple[Tap, Person]:
    """The rows of both codes.

    Raises
    ------
    InputError    unknown codes
    """
    problems: list[Problem] = []
    find = partial(find_in, session)
    tap = look_up(find, problems, Tap, tap_code, "tap")
    person = look_up(find, problems, Person, by, "person")
    if tap is None or person is None:
        raise InputError(problems)
    return tap, person
