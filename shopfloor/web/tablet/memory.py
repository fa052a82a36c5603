"""What the tablet remembers: the person, the station, and the job and batch at each station."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from flask import session

from shopfloor.core.errors import Conflict
from shopfloor.core.input.reader import shown
from shopfloor.core.phrases import phrase
from shopfloor.web.security import current_person

_PERSON, _STATION, _JOBS, _BATCHES = "person", "station", "jobs", "batches"
_MOST_STATIONS = 8
"""Stations that a tablet remembers, so that the cookie stays small."""


@dataclass(frozen=True)
class OpenBatch:
    """A batch that continues with another tap; `rest` is None if the holes left are not known."""

    batch_id: UUID
    rest: int | None


def person() -> str | None:
    """Code of the tablet's user: who is logged in, or, while PINs are not in use, who was chosen."""
    if current_person.rules().is_in_use:
        found = current_person.who()
        return found.code if found else None
    return _text(session.get(_PERSON))


def author(named: str) -> str:
    """Who makes an entry: the person logged in; while PINs are not in use, the one named in the form.

    Raises
    ------
    Conflict    the form was filled in for somebody else; whoever is logged in must save it again to claim it
    """
    if not current_person.rules().is_in_use:
        return named
    logged_in = person() or ""
    if named and named != logged_in:
        what = phrase("{whose} began this form, and somebody else is logged in now", whose=shown(named))
        raise Conflict.of("person", what, "save again if the batch is yours; otherwise whoever made it must log in")
    return logged_in


def remember_person(code: str) -> None:
    """Remember the tablet's user."""
    _keep(_PERSON, code)


def station() -> str | None:
    """Code of the station where the tablet was last used."""
    return _text(session.get(_STATION))


def remember_station(code: str) -> None:
    """Remember that the tablet is at this station."""
    if station() != code:
        _keep(_STATION, code)


def job_at(station: str) -> str | None:
    """Code of the job at this station."""
    return _text(_table(_JOBS).get(station))


def remember_job(station: str, code: str) -> None:
    """Remember the station's job; an open batch of another job ends."""
    if job_at(station) != code:
        end_batch(station)
    _keep_at(_JOBS, station, code)


def open_batch(station: str) -> OpenBatch | None:
    """The unfinished batch at this station, if any."""
    match _table(_BATCHES).get(station):
        case [str(batch), int() | None as rest]:
            return OpenBatch(UUID(batch), rest)
    return None


def keep_batch(station: str, batch_id: UUID, rest: int | None) -> None:
    """Remember that the batch continues with another tap."""
    _keep_at(_BATCHES, station, [str(batch_id), rest])


def end_batch(station: str) -> None:
    """Forget the unfinished batch at this station."""
    table = _table(_BATCHES)
    if table.pop(station, None) is not None:
        _keep(_BATCHES, table)


def _text(value: Any) -> str | None:
    return value if isinstance(value, str) else None


def _table(name: str) -> dict[str, Any]:
    table = session.get(name)
    return dict(table) if isinstance(table, dict) else {}


def _keep(name: str, value: Any) -> None:
    session[name] = value
    session.permanent = True


def _keep_at(name: str, station: str, value: Any) -> None:
    table = _table(name)
    table.pop(station, None)
    table[station] = value
    _keep(name, dict(list(table.items())[-_MOST_STATIONS:]))
