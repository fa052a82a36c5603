"""Who may use which page: one table, one check before each request, and the wording of refusals.

The table applies while PINs are in use; without them every page is open to everybody, except those that decide who
gets in, which need a supervisor as soon as there is one.
"""

from __future__ import annotations

from datetime import datetime
from enum import Enum
from typing import Any

from flask import Flask, redirect, request, url_for
from werkzeug.exceptions import Forbidden, Unauthorized
from werkzeug.wrappers import Response

from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import Role
from shopfloor.services.access import log_in as log_in
from shopfloor.services.access.credentials import has_supervisor
from shopfloor.web.context import work
from shopfloor.web.security import current_person


class Needs(Enum):
    """What a page requires of its user."""

    NOTHING = phrase("anybody, on any device")
    TABLET = phrase("an enrolled tablet, or somebody logged in")
    LOGGED_IN = phrase("somebody logged in")
    LEAD = phrase("tool crib, quality lead or supervisor")
    CRIB = phrase("tool crib or supervisor")
    QUALITY = phrase("quality lead or supervisor")
    SUPERVISOR = phrase("supervisor")
    FIRST_SUPERVISOR = phrase("supervisor, as soon as there is one")


_ROLES = {
    Needs.LEAD: {Role.CRIB, Role.QUALITY, Role.ADMIN},
    Needs.CRIB: {Role.CRIB, Role.ADMIN},
    Needs.QUALITY: {Role.QUALITY, Role.ADMIN},
    Needs.SUPERVISOR: {Role.ADMIN},
    Needs.FIRST_SUPERVISOR: {Role.ADMIN},
}

NEEDS: dict[str, Needs] = {
    **dict.fromkeys(
        (
            "static_file",
            "plotly_script",
            "front.health",
            "front.changes",
            "front.speak",
            "front.choose_look",
            "help.start",
            "help.page",
            "help.kept_page",
            "sync.clock",
            "monitoring.metrics",
        ),
        Needs.NOTHING,
    ),
    **dict.fromkeys(("operator.worker", "operator.offline", "sync.still_here", "sync.lock"), Needs.NOTHING),
    **dict.fromkeys(("who.tiles", "who.pin", "who.give_pin", "who.lock"), Needs.NOTHING),
    **dict.fromkeys(("who.password", "who.give_password"), Needs.NOTHING),
    **dict.fromkeys(("sync.lists", "sync.advice", "sync.store_run", "sync.take_back_run"), Needs.TABLET),
    **dict.fromkeys(("sync.fit_tap_from_box", "sync.store_photograph", "sync.give_pin"), Needs.TABLET),
    **dict.fromkeys(("front.start", "sync.threads"), Needs.LOGGED_IN),
    **dict.fromkeys(("operator.start", "operator.station", "operator.save", "operator.card"), Needs.LOGGED_IN),
    **dict.fromkeys(("operator.person", "operator.choose_person"), Needs.NOTHING),
    **dict.fromkeys(("operator.job", "operator.choose_job", "operator.end_batch", "operator.go_on"), Needs.LOGGED_IN),
    **dict.fromkeys(("operator.next_tap", "operator.choose_tap", "operator.fit_found_tap"), Needs.LOGGED_IN),
    **dict.fromkeys(("operator.entries", "operator.undo", "operator.scan", "operator.take_scan"), Needs.LOGGED_IN),
    **dict.fromkeys(("operator.correct", "operator.save_correction", "operator.cancel"), Needs.LEAD),
    **dict.fromkeys(("crib.board", "crib.orders", "crib.taps", "crib.tap", "crib.ledger"), Needs.LOGGED_IN),
    **dict.fromkeys(("crib.movement", "crib.check", "crib.labels", "crib.types"), Needs.LOGGED_IN),
    **dict.fromkeys(("crib.gauge", "crib.correct_check", "crib.cancel_check"), Needs.LEAD),
    **dict.fromkeys(("crib.receive", "crib.book_received", "crib.new_type", "crib.add_type"), Needs.CRIB),
    **dict.fromkeys(("crib.tap_type", "crib.change_type"), Needs.CRIB),
    **dict.fromkeys(("crib.book", "crib.move", "crib.correct_movement", "crib.cancel_movement"), Needs.CRIB),
    **dict.fromkeys(
        ("quality.board", "quality.gauge", "quality.incident_list", "quality.life", "quality.incident"), Needs.LOGGED_IN
    ),
    "quality.photograph": Needs.LOGGED_IN,
    **dict.fromkeys(
        ("quality.correct_incident", "quality.cancel_incident", "quality.cancel_photograph", "quality.tell_gauge"),
        Needs.QUALITY,
    ),
    **dict.fromkeys(("setup.start", "setup.things", "setup.card_where", "setup.labels"), Needs.LOGGED_IN),
    **dict.fromkeys(("setup.add_thing", "setup.open_job", "setup.life_measure"), Needs.SUPERVISOR),
    **dict.fromkeys(("setup.thing", "setup.change_thing"), Needs.SUPERVISOR),
    **dict.fromkeys(("setup.person", "setup.change_person"), Needs.FIRST_SUPERVISOR),
    **dict.fromkeys(("setup.codes", "setup.rename_code"), Needs.FIRST_SUPERVISOR),
    **dict.fromkeys(("access.overview", "access.first", "access.change_rules"), Needs.FIRST_SUPERVISOR),
    **dict.fromkeys(("access.give_secret", "access.release", "access.release_tablet"), Needs.FIRST_SUPERVISOR),
    **dict.fromkeys(("access.enrol", "access.revoke"), Needs.FIRST_SUPERVISOR),
}
"""By endpoint. Anything not listed needs a supervisor, and fails a test."""

_BACKGROUND = "/sync/"
"""Requests that scripts make on their own: they are not a sign of a person."""


class RoleLacking(Forbidden):
    """Somebody is logged in whose role does not allow it."""

    def __init__(self, needs: Needs) -> None:
        super().__init__()
        self.needs = needs


def install(app: Flask) -> None:
    """Check every request, and give templates the current person."""
    app.before_request(_look)
    app.context_processor(_shared)
    for global_ in (may, may_undo):
        app.add_template_global(global_)


def may(endpoint: str) -> bool:
    """Whether the current person may use the page; templates show no button that would be refused."""
    needs = NEEDS.get(endpoint, Needs.SUPERVISOR)
    return not _is_guarded(needs) or _fits(needs)


def allows(needs: Needs, role: Role) -> bool:
    """Whether this role alone satisfies the need."""
    return needs not in _ROLES or role in _ROLES[needs]


def may_undo(person: str | None) -> bool:
    """Whether the current person may undo this person's entry without a reason."""
    if not current_person.rules().is_in_use:
        return True
    found = current_person.who()
    return found is not None and found.code == person


def own_undo() -> str | None:
    """The only person whose entries may be undone here; None while PINs are not in use."""
    found = current_person.who()
    return found.code if found is not None and current_person.rules().is_in_use else None


def must_vouch(person: str | None, at: datetime) -> None:
    """Refuse an entry by somebody who has not given the PIN at this tablet since; a supervisor may vouch for anybody.

    If the entry on record names nobody (`person` None), as imported ones do, only a supervisor may act on it. A
    request that names nobody is left to the service, which says what is missing.

    Raises
    ------
    Unauthorized    the PIN is needed; the entry stays on the tablet meanwhile
    """
    rules = current_person.rules()
    if not rules.is_in_use or person == "":
        return
    code, found, here = log_in.person_of_run(work(), person or ""), current_person.who(), current_person.tablet()
    if found is not None and (found.is_supervisor or found.code == code):
        return
    if here is None or not log_in.vouches(work(), rules, code, here.id, at):
        raise Unauthorized


def _look() -> Response | None:
    endpoint = request.endpoint
    if endpoint is None:
        return None
    needs = NEEDS.get(endpoint, Needs.SUPERVISOR)
    if not _is_guarded(needs):
        return None
    found = current_person.who()
    if found is not None and not request.path.startswith(_BACKGROUND):
        log_in.touch(work(), found.sign_in)
    if _fits(needs):
        return None
    if found is not None:
        raise RoleLacking(needs)
    if request.method != "GET" or request.path.startswith(_BACKGROUND):
        raise Unauthorized
    return redirect(url_for(_log_in_page(needs), next=request.full_path.rstrip("?")), 303)


def _is_guarded(needs: Needs) -> bool:
    if needs is Needs.NOTHING:
        return False
    if current_person.rules().is_in_use:
        return True
    return needs is Needs.FIRST_SUPERVISOR and has_supervisor(work())


def _fits(needs: Needs) -> bool:
    found = current_person.who()
    if needs is Needs.TABLET:
        return found is not None or current_person.tablet() is not None
    if found is None:
        return False
    return needs is Needs.LOGGED_IN or bool(_ROLES[needs] & found.roles)


def _log_in_page(needs: Needs) -> str:
    return "who.password" if needs is Needs.FIRST_SUPERVISOR else "who.tiles"


def _shared() -> dict[str, Any]:
    return {"pins": current_person.rules(), "me": current_person.who()}
