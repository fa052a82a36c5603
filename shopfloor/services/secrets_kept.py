"""Keeps and compares secrets: PINs and passwords as Argon2id hashes, long random tokens as SHA-256."""

from __future__ import annotations

import hashlib
import secrets
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import VerificationError

_TOKEN_BYTES = 32
_MEMORY_KIB, _PASSES, _LANES = 19 * 1024, 2, 1
"""OWASP, Password Storage Cheat Sheet: Argon2id with 19 MiB, two passes, one lane."""

_hasher = PasswordHasher(time_cost=_PASSES, memory_cost=_MEMORY_KIB, parallelism=_LANES)


def hashed(secret: str) -> str:
    """The hash under which a PIN or password is kept, with its salt and the cost of making it."""
    return _hasher.hash(secret)


def fits(kept: str | None, secret: str) -> bool:
    """Whether the secret is the one that was kept; where none was, the answer takes as long and is no."""
    try:
        _hasher.verify(kept or _nobodys(), secret)
    except VerificationError:
        return False
    return kept is not None


def is_outdated(kept: str) -> bool:
    """Whether the hash was made at another cost than today's."""
    return _hasher.check_needs_rehash(kept)


def new_token() -> str:
    """What a browser keeps in a cookie: 256 bits of chance."""
    return secrets.token_urlsafe(_TOKEN_BYTES)


def fingerprint(token: str) -> str:
    """What the record keeps of a token. It is too long to be guessed, so a fast hash will do."""
    return hashlib.sha256(token.encode()).hexdigest()


@cache
def _nobodys() -> str:
    return hashed(new_token())
