"""A file encrypted with a passphrase: scrypt makes the key, AES-GCM encrypts piece by piece.

Each piece is numbered by its nonce, and the last one is marked, so that none can be left out, moved or cut off.
The first piece is empty: where it cannot be opened the passphrase is wrong.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM

_MAGIC = b"shopfloor sealed 1\n"
_SALT, _NONCE, _TAG, _LENGTH, _PIECE = 16, 12, 16, 4, 1 << 20
_WORK, _BLOCK = 1 << 15, 8
_MORE, _LAST = b"more", b"last"


def is_sealed(path: Path) -> bool:
    """Whether the file was encrypted by `seal`."""
    with path.open("rb") as file:
        return file.read(len(_MAGIC)) == _MAGIC


def seal(plain: Path, to: Path, passphrase: bytes) -> None:
    """Write the file encrypted."""
    salt = os.urandom(_SALT)
    cipher = _cipher(passphrase, salt)
    with plain.open("rb") as source, to.open("xb") as target:
        target.write(_MAGIC + salt)
        _write(target, cipher.encrypt(_nonce(0), b"", _MORE))
        number, piece = 1, source.read(_PIECE)
        while piece:
            following = source.read(_PIECE)
            _write(target, cipher.encrypt(_nonce(number), piece, _MORE if following else _LAST))
            number, piece = number + 1, following


def unseal(sealed: Path, to: Path, passphrase: bytes) -> None:
    """Write the file decrypted.

    Raises
    ------
    InputError    the passphrase is wrong, or the file is damaged
    """
    from cryptography.exceptions import InvalidTag  # slow to load, and only an encrypted backup needs it

    with sealed.open("rb") as source, to.open("xb") as target:
        source.read(len(_MAGIC))
        cipher = _cipher(passphrase, source.read(_SALT))
        try:
            cipher.decrypt(_nonce(0), _read(source), _MORE)
        except InvalidTag:
            what, remedy = "it does not open this backup", "give the one with which the backup was made"
            raise InputError.of("passphrase", what, remedy) from None
        try:
            _unseal_pieces(source, target, cipher)
        except InvalidTag:
            raise InputError.of(
                "backup", phrase("'{path}' is damaged", path=str(sealed)), "take another backup"
            ) from None


def _unseal_pieces(source: BinaryIO, target: BinaryIO, cipher: AESGCM) -> None:
    number, piece = 1, _read(source)
    while True:
        following = _read(source)
        target.write(cipher.decrypt(_nonce(number), piece, _MORE if following else _LAST))
        if not following:
            return
        number, piece = number + 1, following


def _cipher(passphrase: bytes, salt: bytes) -> AESGCM:
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM  # as above
    from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

    return AESGCM(Scrypt(salt=salt, length=32, n=_WORK, r=_BLOCK, p=1).derive(passphrase))


def _nonce(number: int) -> bytes:
    return number.to_bytes(_NONCE)


def _write(target: BinaryIO, piece: bytes) -> None:
    target.write(len(piece).to_bytes(_LENGTH) + piece)


def _read(source: BinaryIO) -> bytes:
    return source.read(min(int.from_bytes(source.read(_LENGTH)), _PIECE + _TAG))
