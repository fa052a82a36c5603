"""What is known of a thing is changed by whoever says so, and what it was before stays on record."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import select

from shopfloor.core.errors import Conflict, InputError, NotFound
from shopfloor.core.vocabulary import Role
from shopfloor.services.advice.life_book import LifeBook
from shopfloor.services.catalogue.corrections import TAP_TYPES, Known, change, known
from shopfloor.services.catalogue.tap_types import add_tap_type
from shopfloor.services.catalogue.things import add, set_job_open
from shopfloor.services.record.life_summaries import rebuild
from shopfloor.services.runs.runs import log_run
from shopfloor.store import Job, Person, Station, TapType
from tests.factories import Shop
from tests.services.conftest import ON_BOTH
from tests.services.looking import tables


def save(shop: Shop, kind: str, code: str, by: str = "bo", **changes: str) -> None:
    """Change fields of a thing as its page shows them now."""
    found = known(shop.work, kind, code)
    roles = {"roles": " ".join(role.value for role in found.roles)} if kind == "people" else {}
    change(shop.work, kind, code, {**found.typed, **roles, "seen": str(found.seen), **changes}, by)


def told(found: Known) -> list[tuple[str | None, list[tuple[str, str, str]]]]:
    """Who changed what, in words, the newest first."""
    return [(one.by, [(was.field, was.before, was.after) for was in one.fields]) for one in found.past]


@ON_BOTH
def test_a_price_is_changed_and_the_old_one_stays(shop: Shop) -> None:
    """With who and when; nothing else of the tap type moves."""
    shop.clock.move(days=3)
    save(shop, TAP_TYPES, "M8 SP", unit_cost="21.50", lead_time_days="20")
    with shop.work.read() as session:
        kind = session.scalars(select(TapType).where(TapType.code == "M8 SP")).one()
        assert (Decimal("21.50"), 20, "Supplier North", "M8") == (
            kind.unit_cost, kind.lead_time_days, kind.supplier, kind.thread
        )  # fmt: skip
    found = known(shop.work, TAP_TYPES, "M8 SP")
    changes, began = told(found)
    assert ("Bo L.", [("unit_cost", "18", "21.50"), ("lead_time_days", "14", "20")]) == changes
    assert (None, []) == began
    assert [shop.clock.now, shop.clock.now.replace(day=1)] == [one.at for one in found.past]


def test_advice_rests_on_the_new_price_at_once(shop: Shop) -> None:
    """What is advised looks forward: the price of today."""
    with shop.work.read() as session:
        kind = session.scalars(select(TapType).where(TapType.code == "M8 SP")).one()
        assert 18.0 == LifeBook(session, shop.work.settings)._price(kind.id)
    save(shop, TAP_TYPES, "M8 SP", unit_cost="30")
    with shop.work.read() as session:
        assert 30.0 == LifeBook(session, shop.work.settings)._price(kind.id)


def test_the_second_who_saves_over_an_unseen_change_is_told(shop: Shop) -> None:
    """Nothing is overwritten unasked; on a second look it can be saved."""
    seen = known(shop.work, TAP_TYPES, "M8 SP")
    save(shop, TAP_TYPES, "M8 SP", supplier="Supplier South")
    late = {**seen.typed, "seen": str(seen.seen), "supplier": "Supplier East"}
    with pytest.raises(Conflict, match=r"Bo L\. changed it in the meantime"):
        change(shop.work, TAP_TYPES, "M8 SP", late, "ada")
    assert "Supplier South" == known(shop.work, TAP_TYPES, "M8 SP").typed["supplier"]
    save(shop, TAP_TYPES, "M8 SP", "ada", supplier="Supplier East")
    assert ["Supplier South", "Supplier North"] == [
        fields[0][1] for _, fields in told(known(shop.work, TAP_TYPES, "M8 SP")) if fields
    ]


@ON_BOTH
@pytest.mark.parametrize(
    ("kind", "code", "changes", "in_words"),
    [
        ("stations", "arm", {"torque_nm": "40 N m"}, ("torque_nm", "not said", "40 N m")),
        ("materials", "steel", {"hardness_hb": "160"}, ("hardness_hb", "150", "160")),
        ("materials", "steel", {"iso_group": "K"}, ("iso_group", "P steel", "K cast iron")),
        ("jobs", "J1", {"depth_mm": "0.5 in"}, ("depth_mm", "16 mm", "12.7 mm")),
        ("jobs", "J1", {"hole": "blind"}, ("hole", "through", "blind")),
        ("jobs", "J1", {"material": "stainless"}, ("material", "Structural steel", "Stainless steel")),
        ("jobs", "J1", {"due_on": "2026-07-01"}, ("due_on", "2026-06-10", "2026-07-01")),
        ("jobs", "J1", {"is_reamed": "yes"}, ("is_reamed", "not said", "yes")),
        ("people", "ada", {"name": "Ada King"}, ("name", "Ada K.", "Ada King")),
    ],
)
def test_each_kind_is_changed_and_told_in_words(
    shop: Shop, kind: str, code: str, changes: dict[str, str], in_words: tuple[str, str, str]
) -> None:
    """Values as people read them, on both databases alike."""
    save(shop, kind, code, **changes)
    assert ("Bo L.", [in_words]) == told(known(shop.work, kind, code))[0]


@ON_BOTH
def test_what_is_left_as_it_was_shown_stays_to_the_last_digit(shop: Shop) -> None:
    """A depth in inches is shown rounded; saving the page with another part does not round the record."""
    with shop.work.write() as session:
        job = session.scalars(select(Job).where(Job.code == "J1")).unique().one()
        job.depth_mm = 12.3456789
    save(shop, "jobs", "J1", part="Bracket, left")
    with shop.work.read() as session:
        job = session.scalars(select(Job).where(Job.code == "J1")).unique().one()
        assert ("Bracket, left", 12.3456789) == (job.part, job.depth_mm)


def test_what_an_import_left_open_need_not_be_filled_in(shop: Shop) -> None:
    """The price of a tap type without a thread can be changed; a field that was there cannot be emptied."""
    with shop.work.write() as session:
        session.add(TapType(code="blue box"))
    save(shop, TAP_TYPES, "blue box", unit_cost="7")
    assert "7" == known(shop.work, TAP_TYPES, "blue box").typed["unit_cost"]
    with pytest.raises(InputError, match="name: it is missing"):
        save(shop, "stations", "arm", name="")


@pytest.mark.parametrize(
    ("kind", "code", "changes", "message"),
    [
        ("stations", "arm", {"rpm_min": "501"}, "rpm max: 500 is below the lowest speed, 501"),
        ("jobs", "J1", {"material": "wood"}, "not a material of this shop"),
        ("people", "ada", {"roles": "king"}, "role: 'king' is not known"),
    ],
)
def test_what_cannot_be_is_refused(shop: Shop, kind: str, code: str, changes: dict[str, str], message: str) -> None:
    """Named by its field, also where only its neighbour was changed; nothing is stored."""
    before = known(shop.work, kind, code)
    with pytest.raises(InputError, match=message):
        save(shop, kind, code, **changes)
    assert before == known(shop.work, kind, code)


def test_nothing_is_made_up_for_what_is_not_there(shop: Shop) -> None:
    """An unknown code is not a code to change, and nobody unknown changes one."""
    with pytest.raises(NotFound):
        known(shop.work, TAP_TYPES, "nothing")
    with pytest.raises(InputError, match="not a person of this shop"):
        save(shop, TAP_TYPES, "M8 SP", "zz", unit_cost="7")


@ON_BOTH
def test_lives_follow_what_they_rest_on(shop: Shop) -> None:
    """The thread of a tap type and the holes of a job: as `rebuild` would work them out."""
    log_run(shop.work, shop.entry())
    save(shop, TAP_TYPES, "M8 SP", thread="M10")
    save(shop, "jobs", "J1", hole="blind", depth_mm="20")
    kept = tables(shop)
    rebuild(shop.work)
    assert tables(shop) == kept


@ON_BOTH
def test_roles_are_given_and_taken_on_record(shop: Shop) -> None:
    """The person has them at once; the record says who gave and who took which."""
    save(shop, "people", "bo", "ada", roles="operator quality")
    with shop.work.read() as session:
        person = session.scalars(select(Person).where(Person.code == "bo")).one()
        assert {Role.OPERATOR, Role.QUALITY} == {role.role for role in person.roles}
    past = [(by, field) for by, fields in told(known(shop.work, "people", "bo")) for field in fields]
    assert {
        ("Ada K.", ("role", "Tool crib", "taken away")),
        ("Ada K.", ("role", "not yet", "Operator")),
        ("Ada K.", ("role", "not yet", "Quality lead")),
    } == set(past)


def test_what_is_added_or_closed_says_who_did_it(shop: Shop) -> None:
    """Not only a change: the first entry is signed, too."""
    add_tap_type(shop.work, {"code": "M6 SP", "thread": "M6"}, "bo")
    add(shop.work, "people", {"code": "cy", "name": "Cy M.", "role": "operator"}, by="bo")
    set_job_open(shop.work, "J1", is_open=False, by="ada")
    assert [("Bo L.", [])] == told(known(shop.work, TAP_TYPES, "M6 SP"))
    assert [("Bo L.", [])] == told(known(shop.work, "people", "cy"))
    assert ("Ada K.", [("is_open", "open", "closed")]) == told(known(shop.work, "jobs", "J1"))[0]


@ON_BOTH
def test_a_change_from_outside_is_told_without_a_name(shop: Shop) -> None:
    """The database kept it; nobody is named who did not sign it."""
    save(shop, "stations", "arm", name="Arm one")
    with shop.work.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE station SET name = 'Forged' WHERE code = 'arm'")
    found: Any = {(by, *fields[0]) for by, fields in told(known(shop.work, "stations", "arm")) if fields}
    assert {(None, "name", "Arm one", "Forged"), ("Bo L.", "name", "Arm 1", "Arm one")} == found
    with shop.work.read() as session:
        assert "Forged" == session.scalars(select(Station.name).where(Station.code == "arm")).one()
