"""The interface for programs and tablets: one thing as JSON, stored once however often it is sent; lists to choose.

Programs have no form token: pages of other sites are turned away by `refuse_strangers` instead. The fields are those of
`RunEntry`, required as `FROM_A_TABLET` says; the handbook's page lists them from both.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, fields
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from flask import Blueprint, make_response, request
from werkzeug.exceptions import Forbidden, RequestEntityTooLarge, Unauthorized, UnsupportedMediaType
from werkzeug.wrappers import Response as AnyResponse

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.input.reader import is_writable, shown
from shopfloor.core.input.run_entry import FROM_A_TABLET, EntryLimits, RunEntry, read_run
from shopfloor.core.phrases import phrase
from shopfloor.core.threads import thread_key
from shopfloor.core.threads.designations import suggest
from shopfloor.services.access.log_in import confirm, sign_in, touch
from shopfloor.services.quality.images import FORMATS, LARGEST_BYTES, PhotographTooLarge
from shopfloor.services.quality.photographs import keep_photograph
from shopfloor.services.runs.runs import log_run, undo_run
from shopfloor.services.station.choices import JobChoice
from shopfloor.services.station.fitting import fit_marked
from shopfloor.services.station.log_entries import entry_of
from shopfloor.services.station.offline_advice import KeptAdvice, kept_advice
from shopfloor.services.station.offline_lists import kept_lists
from shopfloor.web.context import work
from shopfloor.web.security import current_person
from shopfloor.web.security.policy import csrf
from shopfloor.web.security.readable import parts_of
from shopfloor.web.security.roles import must_vouch
from shopfloor.web.tablet import memory

blueprint = Blueprint("sync", __name__, url_prefix="/sync")
# A program has no form token; browsers' origin headers tell it from a foreign page.
csrf.exempt(blueprint)

FIELDS = frozenset(field.name for field in fields(RunEntry)) - {"ended_at", "is_clocked_here"} | {"when"}
"""The fields of a run."""

FIELDS_OF_TAP = frozenset({"id", "tap", "tap_type", "station", "person"})
"""The fields of a tap from the box."""

FIELDS_OF_PIN = frozenset({"person", "secret"})
"""The fields of a PIN request."""

_VERSION_OF_TABLETS = 7

_JUST_NOW = timedelta(minutes=2)
"""Undoing has no date of its own: the PIN must have been given shortly before."""

_MOST_TOLD = 20
"""Most unknown fields named in one answer."""


@blueprint.before_request
def refuse_strangers() -> None:
    """A page of another site must not write into the log through somebody's browser."""
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        raise Forbidden
    origin = request.headers.get("Origin")
    parts = None if origin is None else parts_of(origin)
    if parts is not None and parts.netloc != request.host:
        raise Forbidden


@blueprint.post("/runs")
def store_run() -> tuple[dict[str, Any], int]:
    """201 if the run is new, 200 if it was stored before.

    `open_batch` says whether this tablet remembers an unfinished batch at the station: if not, its page needs nothing
    else to continue after a whole batch.
    """
    raw = _read_object(_json_body(), FIELDS)
    limits = EntryLimits(work().clock(), work().settings.zone, work().settings.largest_batch, FROM_A_TABLET)
    entry = read_run(raw, limits)
    must_vouch(entry.person, entry.ended_at)
    logged = log_run(work(), entry)
    is_open = memory.open_batch(entry.station or "") is not None
    return {"id": str(logged.run_id), "stored": True, "open_batch": is_open}, 201 if logged.is_new else 200


@blueprint.post("/runs/<uuid:run>/photographs/<uuid:photograph>")
def store_photograph(run: UUID, photograph: UUID) -> tuple[dict[str, Any], int]:
    """201 if the photograph of the tap that broke in a run is new, 200 if it was stored before."""
    content = _picture()
    entry = entry_of(work(), run)
    must_vouch(entry.person_code, entry.ended_at)
    is_new = keep_photograph(work(), photograph, run, content)
    return {"id": str(photograph), "stored": True}, 201 if is_new else 200


@blueprint.get("/threads")
def threads() -> dict[str, Any]:
    """The standard threads that `text` may become, as a typing aid: {"threads": [...]}."""
    return {"threads": suggest(request.args.get("text", ""))}


@blueprint.post("/runs/<uuid:run>/undo")
def take_back_run(run: UUID) -> tuple[dict[str, Any], int]:
    """200 once the fresh run is undone, also if it was undone before."""
    _json_body()
    entry = entry_of(work(), run)
    must_vouch(entry.person_code, work().clock() - _JUST_NOW)
    undo_run(work(), run)
    return {"id": str(run), "undone": True}, 200


@blueprint.post("/taps")
def fit_tap_from_box() -> tuple[dict[str, Any], int]:
    """200 once a tap from the box is in the station under the code written on it."""
    raw = _read_object(_json_body(), FIELDS_OF_TAP)
    must_vouch(str(raw.get("person", "")), _made_at(raw))
    code = fit_marked(work(), raw)
    return {"id": str(raw["id"]), "tap": code, "stored": True}, 200


@blueprint.post("/pin")
def give_pin() -> tuple[dict[str, Any], int] | AnyResponse:
    """200 once a person has given the PIN for entries waiting on this tablet; if nobody is logged in, logs them in.

    401 if the tablet is not enrolled: its entries stay on it.
    """
    raw, here = _read_object(_json_body(), FIELDS_OF_PIN), current_person.tablet()
    if here is None:
        raise Unauthorized
    code, secret = str(raw.get("person", "")), str(raw.get("secret", ""))
    answer = {"person": code, "fits": True}
    if current_person.who() is not None:
        confirm(work(), code, secret, here.id)
        return answer, 200
    return current_person.let_in(make_response(answer), sign_in(work(), code, secret, here.id))


@blueprint.post("/here")
def still_here() -> dict[str, bool]:
    """Keep the log-in alive: somebody is touching the tablet."""
    found = current_person.who()
    if found is not None:
        touch(work(), found.sign_in)
    return {"logged_in": found is not None}


@blueprint.post("/lock")
def lock() -> dict[str, bool]:
    """Log out: nobody has touched the tablet for a while."""
    current_person.sign_out()
    return {"logged_in": False}


@blueprint.get("/clock")
def clock() -> dict[str, str]:
    """The server's time, from which a tablet sees that the server is reachable and how far its own clock is off."""
    return {"now": work().clock().isoformat()}


@blueprint.get("/lists/<path:station>")
def lists(station: str) -> dict[str, Any]:
    """What can be chosen at a station, kept for working offline."""
    kept = kept_lists(work(), station)
    return {
        "at": kept.at.isoformat(),
        "people": [{"code": person.code, "name": person.name} for person in kept.people],
        "jobs": [_job(job) | {"usual": asdict(kept.usual[job.code])} for job in kept.jobs],
        "taps": [asdict(tap) for tap in kept.taps],
        "tap_types": [asdict(kind) for kind in kept.tap_types],
        "stations": [asdict(station) for station in kept.stations],
    }


def _made_at(raw: Mapping[str, object]) -> datetime:
    """When a tap was taken from the box: its id begins with a timestamp in milliseconds (RFC 9562, section 5.7)."""
    now = work().clock()
    try:
        id_ = UUID(str(raw.get("id", "")))
    except ValueError:
        return now
    seconds = (id_.int >> 80) / 1000
    # An id may hold a moment outside the calendar; anything in the future becomes now.
    is_past = id_.version == _VERSION_OF_TABLETS and seconds < now.timestamp()
    return datetime.fromtimestamp(seconds, UTC) if is_past else now


@blueprint.get("/advice/<path:station>")
def advice(station: str) -> dict[str, Any]:
    """The risks of the taps in a station, to be kept for offline use."""
    return {"at": work().clock().isoformat(), "advice": [_advice(one) for one in kept_advice(work(), station)]}


def _advice(kept: KeptAdvice) -> dict[str, Any]:
    """As `risk.js` reads it."""
    fields, timing = asdict(kept), kept.timing
    del fields["timing"]
    if timing is None:
        return fields | {"change_at": None, "early": (), "late": (), "stop": 0.0}
    return fields | {
        "change_at": timing.change_at, "early": timing.early, "late": timing.late, "stop": timing.stop,
    }  # fmt: skip


def _job(job: JobChoice) -> dict[str, str]:
    about = f"{job.thread} in {job.material}"
    return {"code": job.code, "part": job.part, "about": about, "thread": thread_key(job.thread)}


def _json_body() -> bytes:
    """The body; another site's form cannot send this content type."""
    if request.mimetype != "application/json":
        raise UnsupportedMediaType
    return request.get_data()


def _picture() -> bytes:
    """The body, up to the size limit of a photograph; anything larger is refused before it is read.

    Another site's form cannot send these content types.
    """
    if request.mimetype not in FORMATS:
        what, remedy = "it does not say which kind it is", "send it as image/jpeg, image/png or image/webp"
        raise InputError.of("photograph", what, remedy)
    request.max_content_length = LARGEST_BYTES
    try:
        return request.get_data()
    except RequestEntityTooLarge:
        raise PhotographTooLarge from None


def _read_object(body: bytes, fields: frozenset[str]) -> Mapping[str, object]:
    try:
        value = json.loads(body.decode("utf-8"), parse_constant=_refuse_constant, object_pairs_hook=_without_repeats)
    except UnicodeDecodeError:
        raise InputError.of("body", "it is not UTF-8", "send JSON in UTF-8") from None
    except (ValueError, RecursionError):
        raise InputError.of("body", "it is not JSON", "send one JSON object") from None
    if not isinstance(value, dict):
        raise InputError.of("body", "it is not a JSON object", "send the fields of one run as one object")
    remedy = phrase("use only: {fields}", fields=", ".join(sorted(fields)))
    unknown = [
        Problem(name[:64], phrase("{name} is not a field here", name=shown(name)), remedy)
        for name in value
        if name not in fields
    ]
    unwritable = [
        Problem(name, phrase("{value} contains characters that cannot be stored", value=shown(text)), "type it again")
        for name, text in value.items()
        if name in fields and isinstance(text, str) and not is_writable(text)
    ]
    if unknown or unwritable:
        raise InputError([*unknown, *unwritable][:_MOST_TOLD])
    return value


def _refuse_constant(name: str) -> float:
    raise ValueError(f"{name} is not a number")


def _without_repeats(pairs: list[tuple[str, object]]) -> dict[str, object]:
    """Refuse duplicate fields, which would be ambiguous."""
    value = dict(pairs)
    if len(value) != len(pairs):
        raise ValueError("a field is given twice")
    return value
