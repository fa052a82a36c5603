"""Keeps and compares secrets: PINs and passwords as Argon2id hashes, long random tokens as SHA-256."""

from __future__ import annotations

import hashlib
import secrets
from base64 import b64encode

from argon2 import PasswordHasher
from argon2.exceptions import VerificationError

_TOKEN_BYTES = 32
_MEMORY_KIB, _PASSES, _LANES = 19 * 1024, 2, 1
"""OWASP, Password Storage Cheat Sheet: Argon2id with 19 MiB, two passes, one lane."""

_hasher = PasswordHasher(time_cost=_PASSES, memory_cost=_MEMORY_KIB, parallelism=_LANES)


def hashed(secret: str) -> str:
    """The hash under which a PIN or password is kept, with its salt and the cost of making it."""
    return _hasher.hash(_bytes(secret))


def fits(kept: str | None, secret: str) -> bool:
    """Whether the secret is the one that was kept; where none was, the answer takes as long and is no."""
    try:
        _hasher.verify(kept or _NOBODYS, _bytes(secret))
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
    return hashlib.sha256(_bytes(token)).hexdigest()


def _bytes(text: str) -> bytes:
    """A program may send half of a pair of characters, which is no text but must be answered all the same."""
    return text.encode("utf-8", "surrogatepass")


def _hash_of_nothing() -> str:
    """What looks like the hash of a secret, and is that of none."""
    salt, digest = (b64encode(secrets.token_bytes(n)).decode().rstrip("=") for n in (16, 32))
    return f"$argon2id$v=19$m={_MEMORY_KIB},t={_PASSES},p={_LANES}${salt}${digest}"


_NOBODYS = _hash_of_nothing()
"""Compared where there is no secret, so that a name that nobody has is answered after the same time as any."""
