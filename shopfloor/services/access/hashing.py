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
    """The hash of a PIN or password as it is stored, with its salt and cost parameters."""
    return _hasher.hash(_bytes(secret))


def fits(kept: str | None, secret: str) -> bool:
    """Whether the secret matches the stored one; without a stored one the answer is no, after the same time."""
    try:
        _hasher.verify(kept or _NOBODYS, _bytes(secret))
    except VerificationError:
        return False
    return kept is not None


def is_outdated(kept: str) -> bool:
    """Whether the hash was made with other cost parameters than today's."""
    return _hasher.check_needs_rehash(kept)


def new_token() -> str:
    """A token for a browser's cookie: 256 random bits."""
    return secrets.token_urlsafe(_TOKEN_BYTES)


def fingerprint(token: str) -> str:
    """The fingerprint of a token that is stored. A token is too long to be guessed, so a fast hash will do."""
    return hashlib.sha256(_bytes(token)).hexdigest()


def _bytes(text: str) -> bytes:
    """A client may send a lone surrogate, which is not valid text but still needs an answer."""
    return text.encode("utf-8", "surrogatepass")


def _hash_of_nothing() -> str:
    """A well-formed hash that no secret matches."""
    salt, digest = (b64encode(secrets.token_bytes(n)).decode().rstrip("=") for n in (16, 32))
    return f"$argon2id$v=19$m={_MEMORY_KIB},t={_PASSES},p={_LANES}${salt}${digest}"


_NOBODYS = _hash_of_nothing()
"""Compared against when there is no secret, so that an unknown name takes as long to answer as a known one."""
