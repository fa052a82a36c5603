"""The door for programs: one run as JSON, stored once however often it is sent; threads while one is typed."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields
from typing import Any
from urllib.parse import urlsplit

from flask import Blueprint, request
from werkzeug.exceptions import Forbidden, UnsupportedMediaType

from shopfloor.core.entries import FROM_A_TABLET, EntryLimits, RunEntry, read_run
from shopfloor.core.errors import InputError, Problem
from shopfloor.core.reading import shown
from shopfloor.core.threads.designations import suggest
from shopfloor.services.batches import log_run
from shopfloor.web.context import work
from shopfloor.web.security import csrf

blueprint = Blueprint("sync", __name__, url_prefix="/sync")
# A program has no form token; it is told apart from a foreign page by what browsers say of where a request comes from.
csrf.exempt(blueprint)

FIELDS = frozenset(field.name for field in fields(RunEntry)) - {"ended_at", "is_clocked_here"} | {"when"}
"""What a run may hold."""

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
    if request.mimetype != "application/json":
        raise UnsupportedMediaType
    raw = _read_object(request.get_data())
    limits = EntryLimits(work().clock(), work().settings.zone, work().settings.largest_batch, FROM_A_TABLET)
    logged = log_run(work(), read_run(raw, limits))
    return {"id": str(logged.run_id), "stored": True}, 201 if logged.is_new else 200


@blueprint.get("/threads")
def threads() -> dict[str, Any]:
    """The standard threads that `text` may become, as a typing aid: {"threads": [...]}."""
    return {"threads": suggest(request.args.get("text", ""))}


def _read_object(body: bytes) -> Mapping[str, object]:
    try:
        value = json.loads(body.decode("utf-8"), parse_constant=_refuse_constant, object_pairs_hook=_without_repeats)
    except UnicodeDecodeError:
        raise InputError.of("body", "it is not UTF-8", "send JSON in UTF-8") from None
    except (ValueError, RecursionError):
        raise InputError.of("body", "it is no JSON", "send one JSON object") from None
    if not isinstance(value, dict):
        raise InputError.of("body", "it is no JSON object", "send the fields of one run as one object")
    unknown = [
        Problem(name[:64], f"{shown(name)} is no field of a run", _remedy()) for name in value if name not in FIELDS
    ]
    if unknown:
        raise InputError(unknown[:_MOST_TOLD])
    return value


def _remedy() -> str:
    return f"use only: {', '.join(sorted(FIELDS))}"


def _refuse_constant(name: str) -> float:
    raise ValueError(f"{name} is no number")


def _without_repeats(pairs: list[tuple[str, object]]) -> dict[str, object]:
    """A field that is given twice could be read either way."""
    value = dict(pairs)
    if len(value) != len(pairs):
        raise ValueError("a field is given twice")
    return value
