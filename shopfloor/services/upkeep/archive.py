"""The file of a backup: a zip of the database, the photographs and the secret key, with `manifest.json` about them."""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase
from shopfloor.services.upkeep.contents import TableContent
from shopfloor.services.upkeep.sealing import is_sealed, unseal

FORMAT = 1
SCRATCH = "shopfloor-backup-"
"""How the names of the folders begin in which a backup is put together or checked."""

DATABASE, TABLES, PHOTOGRAPHS, KEY = "database.sqlite", "tables", "photographs", "secret-key"

_MANIFEST = "manifest.json"
_MEMBER = re.compile(r"database\.sqlite|tables/[a-z_]+\.copy|photographs/[0-9a-f-]+\.jpg|secret-key")


@dataclass(frozen=True)
class BackupManifest:
    """What a backup says of itself: the version and schema that made it, and what it must hold."""

    version: str
    schema: str
    kind: str
    made_at: str
    tables: Mapping[str, TableContent]
    missing_photographs: int = 0
    files: Mapping[str, str] = field(default_factory=dict)
    format: int = FORMAT

    def written(self) -> str:
        """As JSON."""
        return json.dumps(asdict(self), indent=1)


def manifest_from(text: str) -> BackupManifest:
    """Read it back.

    Raises
    ------
    InputError    its form is of a newer version
    """
    values = json.loads(text)
    if values["format"] > FORMAT:
        raise InputError.of(
            "backup",
            phrase("it was made by version {version}", version=values["version"]),
            "use that version or a newer one",
        )
    return BackupManifest(**{**values, "tables": contents_from(values["tables"])})


def contents_from(tables: Mapping[str, Mapping[str, str | int]]) -> dict[str, TableContent]:
    """Contents of tables as JSON holds them."""
    return {name: TableContent(int(each["rows"]), str(each["digest"])) for name, each in tables.items()}


def pack(manifest: BackupManifest, members: Mapping[str, Path], to: Path) -> BackupManifest:
    """Write the members, by their names in the file, and the manifest with their digests."""
    digests = {}
    with zipfile.ZipFile(to, "x", zipfile.ZIP_DEFLATED, compresslevel=1) as packed:
        for name, path in members.items():
            packed.write(path, name)
            digests[name] = _digest(path)
        whole = BackupManifest(**{**vars(manifest), "files": digests})
        packed.writestr(_MANIFEST, whole.written())
    return whole


def unpack(path: Path, into: Path, passphrase: bytes | None) -> BackupManifest:
    """Write the members of a backup into an empty folder, and hold each against its digest.

    Raises
    ------
    InputError    no backup, a damaged one, one of a newer version, or the passphrase is missing or wrong
    """
    try:
        plain = _opened(path, into, passphrase)
        with zipfile.ZipFile(plain) as packed:
            manifest = manifest_from(packed.read(_MANIFEST).decode("utf-8"))
            for name, digest in manifest.files.items():
                _extract(packed, name, into, digest)
    except (zipfile.BadZipFile, zlib.error, EOFError, KeyError, TypeError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError.of(
            "backup", phrase("'{path}' is damaged, or no backup", path=str(path)), "take another backup"
        ) from None
    except OSError as error:
        raise InputError.of(
            "backup",
            phrase("'{path}' cannot be read ({why})", path=str(path), why=str(error.strerror)),
            "check the path",
        ) from None
    return manifest


def _opened(path: Path, into: Path, passphrase: bytes | None) -> Path:
    """The plain file: the backup itself, or what it was before it was encrypted."""
    if not is_sealed(path):
        return path
    if passphrase is None:
        raise InputError.of("passphrase", "this backup is encrypted", "give --passphrase or --passphrase-file")
    plain = into / "packed.zip"
    unseal(path, plain, passphrase)
    return plain


def _extract(packed: zipfile.ZipFile, name: str, into: Path, digest: str) -> None:
    if not _MEMBER.fullmatch(name):
        raise ValueError(name)
    place = Path(packed.extract(name, into))
    if _digest(place) != digest:
        raise ValueError(name)


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
