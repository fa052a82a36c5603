"""The door for programs and tablets: one thing as JSON, stored once however often it is sent; lists to choose from."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, fields
from typing import Any
from urllib.parse import urlsplit
from uuid import UUID

from flask import Blueprint, request
from werkzeug.exceptions import Forbidden, UnsupportedMediaType

from shopfloor.core.entries import FROM_A_TABLET, EntryLimits, RunEntry, read_run
from shopfloor.core.errors import InputError, Problem
from shopfloor.core.reading import shown
from shopfloor.core.threads.designations import suggest
from shopfloor.services.batches import log_run, undo_run
from shopfloor.services.choices import JobChoice, thread_key
from shopfloor.services.fitting import fit_marked
from shopfloor.services.kept_lists import kept_lists
from shopfloor.web.context import work
from shopfloor.web.security import csrf

blueprint = Blueprint("sync", __name__, url_prefix="/sync")
# A program has no form token; it is told apart from a foreign page by what browsers say of where a request comes from.
csrf.exempt(blueprint)

FIELDS = frozenset(field.name for field in fields(RunEntry)) - {"ended_at", "is_clocked_here"} | {"when"}
"""What a run may hold."""

FIELDS_OF_TAP = frozenset({"id", "tap", "tap_type", "station", "person"})
"""What a tap from the box comes with."""

_MOST_TOLD = 20
"""Strange fields that are named in one answer."""


@blueprint.before_request
def refuse_strangers() -> None:
    """A page of another site must not write into the log through somebody's browser."""
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        raise Forbidden
    origin = request.headers.get("Origin")
    if origin is not None and urlsplit(origin).netloc != request.host:
        raise Forbidden


@blueprint.post("/runs")
def store_run() -> tuple[dict[str, Any], int]:
    """201 where the run is new, 200 where it was stored before."""
    raw = _read_object(_json_body(), FIELDS)
    limits = EntryLimits(work().clock(), work().settings.zone, work().settings.largest_batch, FROM_A_TABLET)
    logged = log_run(work(), read_run(raw, limits))
    return {"id": str(logged.run_id), "stored": True}, 201 if logged.is_new else 200


@blueprint.get("/threads")
def threads() -> dict[str, Any]:
    """The standard threads that `text` may become, as a typing aid: {"threads": [...]}."""
    return {"threads": suggest(request.args.get("text", ""))}


@blueprint.post("/runs/<uuid:run>/undo")
def take_back_run(run: UUID) -> tuple[dict[str, Any], int]:
    """200 once the fresh run counts no longer, also where it was taken back before."""
    _json_body()
    undo_run(work(), run)
    return {"id": str(run), "undone": True}, 200


@blueprint.post("/taps")
def fit_tap_from_box() -> tuple[dict[str, Any], int]:
    """200 once a tap from the box is in the station under the code that was written on it."""
    raw = _read_object(_json_body(), FIELDS_OF_TAP)
    code = fit_marked(work(), raw)
    return {"id": str(raw["id"]), "tap": code, "stored": True}, 200


@blueprint.get("/clock")
def clock() -> dict[str, str]:
    """The server's time, by which a tablet sees that we are there and how far its own clock is off."""
    return {"now": work().clock().isoformat()}


@blueprint.get("/lists/<path:station>")
def lists(station: str) -> dict[str, Any]:
    """What can be chosen at a station, to be kept for the time without network."""
    kept = kept_lists(work(), station)
    return {
        "at": kept.at.isoformat(),
        "people": [{"code": person.code, "name": person.name} for person in kept.people],
        "jobs": [_job(job) for job in kept.jobs],
        "taps": [asdict(tap) for tap in kept.taps],
        "tap_types": [asdict(kind) for kind in kept.tap_types],
        "stations": [asdict(station) for station in kept.stations],
    }


def _job(job: JobChoice) -> dict[str, str]:
    about = f"{job.thread} in {job.material}"
    return {"code": job.code, "part": job.part, "about": about, "thread": thread_key(job.thread)}


def _json_body() -> bytes:
    """The body; a form of another site cannot send what calls itself JSON."""
    if request.mimetype != "application/json":
        raise UnsupportedMediaType
    return request.get_data()


def _read_object(body: bytes, fields: frozenset[str]) -> Mapping[str, object]:
    try:
        value = json.loads(body.decode("utf-8"), parse_constant=_refuse_constant, object_pairs_hook=_without_repeats)
    except UnicodeDecodeError:
        raise InputError.of("body", "it is not UTF-8", "send JSON in UTF-8") from None
    except (ValueError, RecursionError):
        raise InputError.of("body", "it is no JSON", "send one JSON object") from None
    if not isinstance(value, dict):
        raise InputError.of("body", "it is no JSON object", "send the fields of one run as one object")
    remedy = f"use only: {', '.join(sorted(fields))}"
    unknown = [Problem(name[:64], f"{shown(name)} is no field here", remedy) for name in value if name not in fields]
    if unknown:
        raise InputError(unknown[:_MOST_TOLD])
    return value


def _refuse_constant(name: str) -> float:
    raise ValueError(f"{name} is no number")


def _without_repeats(pairs: list[tuple[str, object]]) -> dict[str, object]:
    """A field that is given twice could be read either way."""
    value = dict(pairs)
    if len(value) != len(pairs):
        raise ValueError("a field is given twice")
    return value
