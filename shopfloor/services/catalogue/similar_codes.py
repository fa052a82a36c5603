"""Codes of an old record that look alike: list them, and rename one of them.

Such codes have no key (`store.on_record.Coded`): they are found only as they are written, until one is renamed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError
from shopfloor.core.input.catalogue_entries import read_new_code
from shopfloor.core.input.codes import code_key, written_code
from shopfloor.core.input.reader import shown
from shopfloor.core.phrases import Phrase, phrase
from shopfloor.services.record.codes import find_in, must_be_new, without_key
from shopfloor.services.record.revisions import person_of
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import Job, Material, Person, Station, Tap, TapType

_TABLES: dict[str, type[Any]] = {
    "people": Person,
    "stations": Station,
    "materials": Material,
    "tap types": TapType,
    "taps": Tap,
    "jobs": Job,
}
KINDS: dict[str, Phrase] = {
    "people": phrase("People"),
    "stations": phrase("Stations"),
    "materials": phrase("Materials"),
    "tap types": phrase("Tap types"),
    "taps": phrase("Taps"),
    "jobs": phrase("Jobs"),
}
"""The kinds of things that have codes, and what a page calls them."""

LABELLED = frozenset({"stations", "taps", "jobs"})
"""Kinds for which labels with the old code may have been printed."""


@dataclass(frozen=True)
class Alike:
    """Codes of one kind that look alike."""

    kind: str
    codes: tuple[str, ...]

    @property
    def told(self) -> str:
        """The codes, with invisible and differently composed characters written as their numbers."""
        return ", ".join(f"'{plainly(code)}'" for code in self.codes)


def plainly(code: str) -> str:
    """A code with every non-plain character written as its number, so that two can be told apart."""
    text = re.sub("(?<= ) ", "[U+0020]", code)
    return "".join(sign if sign.isascii() and sign.isprintable() else f"[U+{ord(sign):04X}]" for sign in text)


def alike(work: Work) -> tuple[Alike, ...]:
    """All codes without a key, by kind and by appearance."""
    with work.read() as session:
        return tuple(Alike(kind, tuple(codes)) for kind, table in _TABLES.items() for codes in _groups(session, table))


def _groups(session: Session, table: type[Any]) -> list[list[str]]:
    """Groups of codes without a key, each with the current code that looks like it, if there is one."""
    found = []
    for key, codes in without_key(session, table).items():
        today = session.scalars(select(table.code).where(table.code_key == key)).all()
        found.append([*codes, *today])
    return found


@tried_again
def rename(work: Work, raw: Mapping[str, object], by: str) -> str:
    """Rename one of the codes that look alike: 'kind', 'code', 'new_code'; returns the new one.

    The old one stays on record. What is left alone by it gets its key, and is found again however it is typed.

    Raises
    ------
    InputError    no such code, or a new one that cannot be used
    """
    new = read_new_code(raw)
    table = _TABLES.get(str(raw.get("kind") or ""))
    with work.write(by) as session:
        person_of(session, by)
        row = None if table is None else _without_key(session, table, str(raw.get("code") or ""))
        if table is None or row is None:
            what = phrase("{code} no longer looks like another code", code=shown(raw.get("code") or ""))
            raise InputError.of("new_code", what, "open the page again")
        if find_in(session, table, new) is not None:
            raise InputError.of("new_code", phrase("{code} is taken", code=shown(new)), "give another code")
        must_be_new(session, table, new, "new_code")
        old = code_key(row.code)
        row.code, row.code_key = written_code(new), code_key(new)
        session.flush()
        _give_key(session, table, old)
        return str(row.code)


def _without_key(session: Session, table: type[Any], code: str) -> Any:
    return session.scalar(select(table).where(table.code == code, table.code_key.is_(None)))


def _give_key(session: Session, table: type[Any], key: str) -> None:
    """The only one left of codes that looked alike gets its key, like any other."""
    left = without_key(session, table).get(key, [])
    is_free = session.scalar(select(table.id).where(table.code_key == key)) is None
    if len(left) == 1 and is_free and key:
        session.scalars(select(table).where(table.code == left[0])).unique().one().code_key = key
