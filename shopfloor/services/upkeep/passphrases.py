"""The passphrase of backups, from a file: on a command line everybody on the computer could read it."""

from __future__ import annotations

from pathlib import Path

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase


def passphrase_in(file: str) -> bytes | None:
    """The first line of the file; None where no file is named.

    Raises
    ------
    InputError    it cannot be read, or is empty
    """
    if not file:
        return None
    try:
        lines = Path(file).read_bytes().splitlines()
    except OSError as error:
        raise InputError.of(
            "passphrase file", phrase("'{path}' cannot be read ({why})", path=file, why=str(error.strerror)), "check it"
        ) from None
    if not lines or not lines[0].strip():
        raise InputError.of(
            "passphrase file", phrase("'{path}' is empty", path=file), "write the passphrase into its first line"
        )
    return lines[0].strip()
