"""Photographs of broken taps: stored once however often they are sent, viewed by id, cancelled with a reason.

The database lists them, the folder beside it holds the files: both belong together.

The row is inserted first, which reserves the id; then the file is written (under another name, flushed, renamed), then
the transaction commits. So a row never lacks its file; a server that is killed may leave a file without a row, which
the next sending writes again. A file is served only if it has the fingerprint on record, always as `image/jpeg`, under
a policy that lets it load nothing.
"""

from __future__ import annotations

import logging
import uuid
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from shopfloor.core.errors import Conflict, NotFound
from shopfloor.core.phrases import phrase
from shopfloor.services.quality.images import as_photograph
from shopfloor.services.quality.incidents import broken_run
from shopfloor.services.record.revisions import Change, cancel_row, person_of, reason_of
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import Cancellation, Person, Photograph, Run, Tap
from shopfloor.store.engine import hold
from shopfloor.store.picture_folder import has_picture, keep_picture, kept_picture, picture_folder, remove_picture
from shopfloor.store.queries.photographs import photographs_that_count

MOST_OF_A_BREAK = 4
"""Photographs of one broken tap that count."""

_log = logging.getLogger(__name__)


class NotKept(Exception):
    """The photograph could not be written to the disk; nothing was stored."""


@dataclass(frozen=True)
class Shown:
    """A photograph of a break. `change` says who cancelled it, when and why; `is_there` whether its file exists."""

    id: uuid.UUID
    recorded_at: datetime
    by: str | None
    change: Change | None
    is_there: bool


@tried_again
def keep_photograph(work: Work, id_: uuid.UUID, run_id: uuid.UUID, content: bytes) -> bool:
    """Store a photograph of the tap that broke in a run; False if it was already stored.

    Raises
    ------
    InputError    it is too large (PhotographTooLarge), or not a picture
    Conflict      no tap broke in that run, it has enough photographs, or another one is stored under this id
    NotKept       the folder cannot be written
    """
    sent = sha256(content).hexdigest()
    with work.read() as session:
        if _is_stored(session, id_, run_id, sent):
            return False
        _must_have_room(session, _broken(session, run_id))
    # Decoding is the slowest step here, and needs no lock on the database.
    picture = as_photograph(content)
    with work.write() as session:
        hold(session, Tap, {_broken(session, run_id).tap_id})
        if _is_stored(session, id_, run_id, sent):
            return False
        run = _broken(session, run_id)
        _must_have_room(session, run)
        session.add(
            Photograph(
                id=id_,
                run_id=run.original_id,
                recorded_at=work.clock(),
                recorded_by_id=run.person_id,
                size=len(picture),
                sha256=sha256(picture).hexdigest(),
                sent_sha256=sent,
            )
        )
        # The id is reserved now. The file is written before the commit: a row without its file would be useless.
        session.flush()
        _write(work, id_, picture)
    return True


def photographs_of(work: Work, run_id: uuid.UUID) -> tuple[Shown, ...]:
    """Every photograph of a break, by its run's first id, cancelled ones too; the oldest first."""
    gone = aliased(Person)
    query = (
        select(
            Photograph.id, Photograph.recorded_at, Person.name,
            Cancellation.cancelled_at, Cancellation.reason, gone.name.label("cancelled_by"),
        )
        .outerjoin(Person, Person.id == Photograph.recorded_by_id)
        .outerjoin(Cancellation, Cancellation.entry_id == Photograph.id)
        .outerjoin(gone, gone.id == Cancellation.cancelled_by_id)
        .where(Photograph.run_id == run_id)
        .order_by(Photograph.recorded_at, Photograph.id)
    )  # fmt: skip
    folder = picture_folder(work.settings)
    with work.read() as session:
        return tuple(
            Shown(
                row.id,
                row.recorded_at,
                row.name,
                Change(row.cancelled_by, row.cancelled_at, row.reason) if row.cancelled_at else None,
                has_picture(folder, row.id),
            )
            for row in session.execute(query)
        )


def photograph(work: Work, id_: uuid.UUID) -> tuple[bytes, str]:
    """The JPEG of a photograph and its SHA-256, for use as an entity tag.

    Raises
    ------
    NotFound    no such photograph, or its file is missing or not what was stored
    """
    with work.read() as session:
        stored = session.get(Photograph, id_)
        if stored is None:
            raise NotFound(f"no photograph {id_}")
        expected = stored.sha256
    content = kept_picture(picture_folder(work.settings), id_)
    if content is None or sha256(content).hexdigest() != expected:
        _log.error("photograph %s: its file in %s is missing or damaged", id_, picture_folder(work.settings))
        raise NotFound(f"no file of photograph {id_}")
    return content, expected


def cancel_photograph(work: Work, run_id: uuid.UUID, id_: uuid.UUID, reason: str, by: str) -> None:
    """Cancel a photograph of a break; it is kept, with the reason. Cancelling twice changes nothing.

    Raises
    ------
    NotFound      the break has no such photograph
    InputError    no reason, an unknown person
    """
    with work.write() as session:
        stored = session.get(Photograph, id_)
        first = session.scalar(select(Run.original_id).where(Run.id == run_id))
        if stored is None or stored.run_id != first:
            raise NotFound(f"no photograph {id_} of run {run_id}")
        if session.get(Cancellation, id_) is None:
            cancel_row(session, work, stored, reason_of(reason), person_of(session, by).id)


def remove_all_files(work: Work) -> None:
    """Delete the files of all photographs on record: only before the whole record is discarded."""
    folder = picture_folder(work.settings)
    with work.read() as session:
        for id_ in session.scalars(select(Photograph.id)):
            remove_picture(folder, id_)


def _is_stored(session: Session, id_: uuid.UUID, run_id: uuid.UUID, sent: str) -> bool:
    stored = session.get(Photograph, id_)
    if stored is None:
        return False
    first = session.scalar(select(Run.original_id).where(Run.id == run_id))
    if (stored.run_id, stored.sent_sha256) != (first, sent):
        raise Conflict.of("id", "another photograph is stored under it", "send it under a new id")
    return True


def _broken(session: Session, run_id: uuid.UUID) -> Run:
    try:
        return broken_run(session, run_id)
    except NotFound:
        remedy = "leave the photograph out, or correct the entry first"
        raise Conflict.of("run", "no tap broke in it, or it no longer counts", remedy) from None


def _must_have_room(session: Session, run: Run) -> None:
    if (session.scalar(select(photographs_that_count(run.original_id))) or 0) >= MOST_OF_A_BREAK:
        what = phrase("this break has {n} photographs already", n=MOST_OF_A_BREAK)
        raise Conflict.of("photograph", what, "leave it out, or let the quality lead cancel another one first")


def _write(work: Work, id_: uuid.UUID, picture: bytes) -> None:
    folder = picture_folder(work.settings)
    try:
        keep_picture(folder, id_, picture)
    except OSError as error:
        _log.error("photographs cannot be written to %s, see SHOPFLOOR_PHOTOGRAPHS: %s", folder, error)
        raise NotKept(str(folder)) from error
