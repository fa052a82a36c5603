"""Who signs an entry, and where something recorded is changed, why."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass

from shopfloor.core.input.reader import Reader
from shopfloor.core.input.run_entry import LONGEST_CODE, LONGEST_NOTE

NO_ID = uuid.UUID(int=0)
"""Stands for an id that is missing, until the problem is raised."""


@dataclass(frozen=True)
class Signed:
    """Who changes an entry, and why."""

    person: str
    reason: str


def read_signed(raw: Mapping[str, object]) -> Signed:
    """Who cancels an entry ('person'), and why ('reason').

    Raises
    ------
    InputError    what is missing, or too long
    """
    reader = Reader(raw)
    signed = signature(reader)
    reader.finish()
    return signed


def read_signer(raw: Mapping[str, object]) -> str:
    """Who fills in a form that asks no reason ('person').

    Raises
    ------
    InputError    nobody, or a code that is too long
    """
    reader = Reader(raw)
    signed = first_signature(reader)
    reader.finish()
    return signed.person


def read_reason(raw: Mapping[str, object]) -> str:
    """Why an entry is changed ('reason').

    Raises
    ------
    InputError    no reason, or one that is too long
    """
    reader = Reader(raw)
    reason = _reason(reader)
    reader.finish()
    return reason


def first_signature(reader: Reader) -> Signed:
    """Who, from a form that changes nothing and therefore asks no reason."""
    return Signed(reader.text("person", longest=LONGEST_CODE, required=True) or "", "")


def signature(reader: Reader) -> Signed:
    """Who and why, from a form that says more."""
    return Signed(first_signature(reader).person, _reason(reader))


def _reason(reader: Reader) -> str:
    return reader.text("reason", longest=LONGEST_NOTE, required=True) or ""
