"""Everything that writes: for each writing route a request that the shop would take, whoever it names."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from shopfloor.core.vocabulary import GaugeResult
from shopfloor.services.catalogue.corrections import known as known_thing
from shopfloor.services.crib.tap_history import tap_history
from shopfloor.services.ledger.gauge_checks import record_gauge_check
from shopfloor.services.ledger.taps import receive_tap
from shopfloor.services.quality.incidents import incident_of
from shopfloor.services.quality.photographs import keep_photograph
from tests.pictures import encoded, picture
from tests.web.conftest import Shop

STATION, JOB, M8 = "arm-1", "J-1", "M8 spiral point"


@dataclass(frozen=True)
class Sent:
    """What a request brings: the parts of its address, and a form's fields, an object of JSON, or a picture."""

    parts: dict[str, Any] = field(default_factory=dict)
    form: dict[str, str] = field(default_factory=dict)
    json: dict[str, Any] | None = None
    picture: bytes | None = None
    prefix: str = ""
    """What stands before the names of the form's fields."""


def sent(shop: Shop, endpoint: str, person: str, secret: str) -> Sent:
    """A request to this route in the name of `person`, about things made for it a moment ago."""
    return _MADE[endpoint](shop, person, secret)


def known() -> set[str]:
    """The routes for which there is a request."""
    return set(_MADE)


def _id() -> str:
    return str(uuid.uuid4())


def _tap(shop: Shop) -> str:
    shop.clock.move(minutes=1)
    return receive_tap(shop.work, f"N{_id()[:12]}", M8, "ben")


def _batch(shop: Shop, person: str) -> dict[str, Any]:
    shop.clock.move(minutes=1)
    return {
        "id": _id(), "person": person, "job": JOB, "tap": _tap(shop), "rpm": "300", "holes": "48",
        "cutting_slips": "0", "tap_end": "still good", "part_fate": "good",
    }  # fmt: skip


def _save(shop: Shop, person: str, secret: str) -> Sent:
    batch = _batch(shop, person)
    return Sent({"station": STATION}, {**batch, "batch_id": batch["id"], "tap_end": "broken", "hole_not_known": "y"})


def _run(shop: Shop, person: str, secret: str) -> Sent:
    batch = _batch(shop, person) | {"rpm": 300, "holes": 48, "cutting_slips": 0}
    return Sent(json=batch | {"station": STATION, "when": shop.clock().isoformat()})


def _own_run(shop: Shop, person: str, **fields: object) -> uuid.UUID:
    return shop.log(tap=_tap(shop), person=person, **fields)


def _broken(shop: Shop, person: str) -> uuid.UUID:
    return _own_run(shop, person, tap_end="broken", broke_at_hole=7, cause="not known")


def _entry(shop: Shop, person: str, **more: str) -> Sent:
    """A change of a run that Ben made."""
    run = _own_run(shop, "ben")
    return Sent({"station": STATION, "run": run}, {**_batch(shop, person), **more})


def _signed(parts: dict[str, Any], person: str, prefix: str = "", **form: str) -> Sent:
    fields = {"id": _id(), "person": person, "reason": "misread", **form}
    return Sent(parts, {prefix + name: value for name, value in fields.items()}, prefix=prefix)


def _check(shop: Shop) -> dict[str, Any]:
    tap, check = _tap(shop), uuid.uuid4()
    record_gauge_check(shop.work, check, tap, GaugeResult.PASSED, "ben")
    return {"check": check}


def _movement(shop: Shop) -> dict[str, Any]:
    return {"movement": tap_history(shop.work, _tap(shop)).movements[0].id}


def _photograph(shop: Shop) -> dict[str, Any]:
    run, photograph = _broken(shop, "ben"), uuid.uuid4()
    keep_photograph(shop.work, photograph, run, encoded(picture()))
    return {"run": run, "photograph": photograph}


def _photograph_cancelled(shop: Shop, person: str, secret: str) -> Sent:
    parts = _photograph(shop)
    return _signed(parts, person, f"photograph-{parts['photograph']}-")


def _typed(shop: Shop) -> str:
    return shop.clock().strftime("%Y-%m-%d %H:%M")


def _new_tap(shop: Shop, person: str, secret: str) -> Sent:
    return Sent(json={"id": _id(), "tap": _id()[:12], "tap_type": M8, "station": STATION, "person": person})


def _story_told(shop: Shop, person: str, secret: str) -> Sent:
    parts = _told(shop)
    return _signed(parts, person, cause="bottomed", account="hit the ground", incident=_seen(shop, parts))


def _story_cancelled(shop: Shop, person: str, secret: str) -> Sent:
    parts = _told(shop)
    return _signed(parts, person, "cancel-", incident=_seen(shop, parts))


def _told(shop: Shop) -> dict[str, Any]:
    return {"run": _broken(shop, "ben")}


def _seen(shop: Shop, parts: dict[str, Any]) -> str:
    present = incident_of(shop.work, parts["run"]).present
    return str(present.id) if present else ""


def _gauge_told(shop: Shop, person: str, secret: str) -> Sent:
    tap, check = _tap(shop), uuid.uuid4()
    record_gauge_check(shop.work, check, tap, GaugeResult.FAILED, "ben")
    return _signed({"check": check}, person, cause="worn out", account="oversize")


def _changed(kind: str, code: str, parts: dict[str, Any]) -> Callable[[Shop, str, str], Sent]:
    """A change of what is known of a thing: its form as it was shown, and another name."""

    def made(shop: Shop, person: str, secret: str) -> Sent:
        found = known_thing(shop.work, kind, code)
        name = next(each for each in ("name", "supplier") if each in found.typed)
        return _signed(parts, person, **{**found.typed, name: f"Other {_id()[:8]}", "seen": str(found.seen)})

    return made


def _renamed(shop: Shop, person: str, secret: str) -> Sent:
    code = _id()[:8]
    with shop.work.engine.begin() as connection:
        connection.exec_driver_sql(f"INSERT INTO material (code, name) VALUES ('{code}', 'Brass of an old record')")
    return _signed({}, person, kind="materials", code=code, new_code=f"{code} two")


_RULES = {"is_in_use": "yes", "idle_minutes": "10", "shift_hours": "10", "shortest_pin": "6"}
_AT = {"station": STATION}
_MADE: dict[str, Callable[[Shop, str, str], Sent]] = {
    "operator.save": _save,
    "operator.choose_person": lambda shop, person, secret: Sent(_AT, {"person": person}),
    "operator.choose_job": lambda shop, person, secret: Sent(_AT, {"person": person, "job": JOB}),
    "operator.choose_tap": lambda shop, person, secret: Sent(_AT, {"person": person, "tap": _tap(shop)}),
    "operator.fit_found_tap": lambda shop, person, secret: Sent(
        _AT, {"found-id": _id(), "found-tap": _id()[:12], "found-tap_type": M8, "found-used": "none"}, prefix="found-"
    ),
    "operator.end_batch": lambda shop, person, secret: Sent(_AT, {"person": person}),
    "operator.take_scan": lambda shop, person, secret: Sent(
        {}, {"station": STATION, "kind": "T", "meant": _tap(shop), "person": person}
    ),
    "operator.go_on": lambda shop, person, secret: Sent(
        _AT, {"run": str(_own_run(shop, "ben")), "rest": "0", "person": person}
    ),
    "operator.undo": lambda shop, person, secret: Sent(
        {"station": STATION, "run": _own_run(shop, person)}, {"person": person}
    ),
    "operator.save_correction": lambda shop, person, secret: _entry(shop, person, reason="misread"),
    "operator.cancel": lambda shop, person, secret: Sent(
        _entry(shop, person).parts, {"cancel-person": person, "cancel-reason": "misread"}, prefix="cancel-"
    ),
    "crib.gauge": lambda shop, person, secret: _signed({"code": _tap(shop)}, person, "gauge-", result="passed"),
    "crib.move": lambda shop, person, secret: _signed({"code": _tap(shop)}, person, "move-", movement="scrapped"),
    "crib.book": lambda shop, person, secret: _signed({"code": M8}, person, movement="counted", number="9"),
    "crib.book_received": lambda shop, person, secret: _signed({}, person, tap_type=M8, number="2", used="none"),
    "crib.add_type": lambda shop, person, secret: _signed({}, person, code=f"M5 {_id()[:8]}", thread="M5"),
    "crib.correct_check": lambda shop, person, secret: _signed(
        _check(shop), person, result="failed", checked_at=_typed(shop)
    ),
    "crib.cancel_check": lambda shop, person, secret: _signed(_check(shop), person, "cancel-"),
    "crib.correct_movement": lambda shop, person, secret: _signed(
        _movement(shop), person, moved_at=_typed(shop), note="other note"
    ),
    "crib.cancel_movement": lambda shop, person, secret: _signed(_movement(shop), person, "cancel-"),
    "quality.correct_incident": _story_told,
    "quality.cancel_incident": _story_cancelled,
    "quality.cancel_photograph": _photograph_cancelled,
    "setup.life_measure": lambda shop, person, secret: Sent({}, {"measure": "holes", "person": person}),
    "setup.add_thing": lambda shop, person, secret: Sent(
        {"kind": "materials"}, {"name": "Brass", "code": _id()[:8], "iso_group": "N", "person": person}
    ),
    "setup.open_job": lambda shop, person, secret: Sent({"code": JOB}, {"is_open": "yes", "person": person}),
    "crib.change_type": _changed("tap types", M8, {"code": M8}),
    "setup.change_thing": _changed("materials", "steel", {"kind": "materials", "code": "steel"}),
    "setup.change_person": _changed("people", "ben", {"code": "ben"}),
    "setup.rename_code": _renamed,
    "quality.tell_gauge": _gauge_told,
    "access.first": lambda shop, person, secret: Sent(
        {}, {"secret-person": person, "secret-secret": secret, "secret-again": secret}, prefix="secret-"
    ),
    "access.change_rules": lambda shop, person, secret: Sent({}, {**_RULES, "person": person}),
    "access.give_secret": lambda shop, person, secret: Sent(
        {}, {"secret-person": "eve", "secret-secret": "141421", "secret-again": "141421"}
    ),
    "access.release": lambda shop, person, secret: Sent({}, {"person": person}),
    "access.enrol": lambda shop, person, secret: Sent({}, {"name": f"Arm {_id()[:8]}", "person": person}),
    "access.release_tablet": lambda shop, person, secret: Sent({"number": 1}, {"person": person}),
    "access.revoke": lambda shop, person, secret: Sent({"number": 2}, {"person": person}),
    "who.give_pin": lambda shop, person, secret: Sent({}, {"person": person, "secret": secret}),
    "who.give_password": lambda shop, person, secret: Sent({}, {"person": person, "secret": secret}),
    "who.lock": lambda shop, person, secret: Sent({}, {"person": person}),
    "sync.store_run": _run,
    "sync.store_photograph": lambda shop, person, secret: Sent(
        {"run": _broken(shop, person), "photograph": uuid.uuid4()}, picture=encoded(picture())
    ),
    "sync.take_back_run": lambda shop, person, secret: Sent({"run": _own_run(shop, person)}, json={}),
    "sync.fit_tap_from_box": _new_tap,
    "sync.give_pin": lambda shop, person, secret: Sent(json={"person": person, "secret": secret}),
    "sync.still_here": lambda shop, person, secret: Sent(json={"person": person}),
    "sync.lock": lambda shop, person, secret: Sent(json={"person": person}),
}
"""By endpoint. A writing route that is not here fails a test."""
