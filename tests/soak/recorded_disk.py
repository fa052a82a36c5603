"""What SQLite writes to its files and what it syncs, in order, so that the disk after a power failure can be made.

SQLite reaches the disk through a table of functions (its VFS). Here the table of the system is copied, and writing,
truncating, syncing and deleting are noted on their way to the functions of the system.
"""

from __future__ import annotations

import _sqlite3
import ctypes
import random
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

SECTOR = 512
_POINTER, _INT, _INT64, _TEXT = ctypes.c_void_p, ctypes.c_int, ctypes.c_int64, ctypes.c_char_p
_OPEN = ctypes.CFUNCTYPE(_INT, _POINTER, _POINTER, _POINTER, _INT, _POINTER)
_DELETE = ctypes.CFUNCTYPE(_INT, _POINTER, _TEXT, _INT)
_WRITE = ctypes.CFUNCTYPE(_INT, _POINTER, _POINTER, _INT, _INT64)
_TRUNCATE = ctypes.CFUNCTYPE(_INT, _POINTER, _INT64)
_SYNC = ctypes.CFUNCTYPE(_INT, _POINTER, _INT)


class _Vfs(ctypes.Structure):
    """`sqlite3_vfs`, version 3."""

    _fields_ = [
        ("iVersion", _INT), ("szOsFile", _INT), ("mxPathname", _INT), ("pNext", _POINTER), ("zName", _TEXT),
        ("pAppData", _POINTER), ("xOpen", _POINTER), ("xDelete", _POINTER), ("others", _POINTER * 14),
    ]  # fmt: skip


class _Methods(ctypes.Structure):
    """`sqlite3_io_methods`, version 3."""

    _fields_ = [
        ("iVersion", _INT), ("xClose", _POINTER), ("xRead", _POINTER), ("xWrite", _POINTER), ("xTruncate", _POINTER),
        ("xSync", _POINTER), ("others", _POINTER * 13),
    ]  # fmt: skip


class Noted(NamedTuple):
    """One thing that happened: to which file, where, with which bytes; or a note of somebody else's."""

    what: str
    name: str
    place: int = 0
    content: bytes = b""


@dataclass
class _File:
    """A file as it surely is on the disk, and what was written since it was last synced."""

    image: bytearray
    loose: list[Noted] = field(default_factory=list)

    def settle(self, survives: float, chance: random.Random) -> None:
        """Apply what was written: each sector with this probability."""
        for noted in self.loose:
            if noted.what == "truncate":
                if chance.random() < survives:
                    del self.image[noted.place :]
                continue
            for start in range(0, len(noted.content), SECTOR):
                if chance.random() < survives:
                    self._put(noted.place + start, noted.content[start : start + SECTOR])
        self.loose = []

    def _put(self, place: int, content: bytes) -> None:
        self.image.extend(b"\0" * (place - len(self.image)))
        self.image[place : place + len(content)] = content


class RecordedDisk:
    """All that happened to the files of SQLite databases while it was looked at."""

    def __init__(self) -> None:
        self.happened: list[Noted] = []
        self._lock = threading.Lock()
        self._names: dict[int, str] = {}
        self._kept: list[Any] = []
        self._methods: dict[int, _Methods] = {}
        self._sqlite = ctypes.CDLL(_sqlite3.__file__)
        self._sqlite.sqlite3_vfs_find.restype = ctypes.POINTER(_Vfs)

    def note(self, what: str, name: str, place: int = 0, content: bytes = b"") -> None:
        """Put it at the end of what happened."""
        with self._lock:
            self.happened.append(Noted(what, name, place, content))

    @contextmanager
    def looked_at(self) -> Iterator[None]:
        """Databases that are opened within this context are looked at; all must be closed again within."""
        usual = self._sqlite.sqlite3_vfs_find(None)
        ours = _Vfs()
        ctypes.pointer(ours)[0] = usual.contents
        ours.zName, ours.pNext = b"recorded", None
        ours.xOpen = self._callback(_OPEN(self._opening(usual, _OPEN(usual.contents.xOpen))))
        ours.xDelete = self._callback(_DELETE(self._deleting(usual, _DELETE(usual.contents.xDelete))))
        self._sqlite.sqlite3_vfs_register(ctypes.byref(ours), 1)
        try:
            yield
        finally:
            self._sqlite.sqlite3_vfs_unregister(ctypes.byref(ours))
            self._sqlite.sqlite3_vfs_register(usual, 1)

    def after_a_failure(
        self, before: dict[str, bytes], moment: int, survives: float, chance: random.Random
    ) -> dict[str, bytes]:
        """The files by their names, as a power failure leaves them.

        Parameters
        ----------
        before      the files when the looking began
        moment      how much had happened when the power failed
        survives    probability with which a sector that was not synced is there all the same
        chance      decides on each
        """
        files = {name: _File(bytearray(content)) for name, content in before.items()}
        for noted in self.happened[:moment]:
            if noted.what in ("write", "truncate"):
                files.setdefault(noted.name, _File(bytearray())).loose.append(noted)
            elif noted.what == "sync":
                files.setdefault(noted.name, _File(bytearray())).settle(1, chance)
            elif noted.what == "delete":
                files.pop(noted.name, None)
        for file in files.values():
            file.settle(survives, chance)
        return {name: bytes(file.image) for name, file in files.items()}

    def _callback(self, function: Any) -> int | None:
        self._kept.append(function)
        return ctypes.cast(function, _POINTER).value

    def _opening(self, usual: Any, real: Any) -> Any:
        def open_(_: int, name: int | None, file: int, flags: int, out: int | None) -> int:
            done: int = real(ctypes.addressof(usual.contents), name, file, flags, out)
            methods = ctypes.cast(file, ctypes.POINTER(_POINTER))
            if done == 0 and name and methods[0]:
                self._names[file] = Path(ctypes.string_at(name).decode()).name
                methods[0] = ctypes.addressof(self._watched(methods[0]))
            return done

        return open_

    def _deleting(self, usual: Any, real: Any) -> Any:
        def delete(_: int, name: bytes, syncs: int) -> int:
            done: int = real(ctypes.addressof(usual.contents), name, syncs)
            if done == 0:
                self.note("delete", Path(name.decode()).name)
            return done

        return delete

    def _watched(self, address: int) -> _Methods:
        """The functions of a file, with ours around those that change it; one set for each that the system has."""
        with self._lock:
            if address not in self._methods:
                self._methods[address] = self._wrapped(_Methods.from_address(address))
            return self._methods[address]

    def _wrapped(self, usual: _Methods) -> _Methods:
        write_, truncate_, sync_ = _WRITE(usual.xWrite), _TRUNCATE(usual.xTruncate), _SYNC(usual.xSync)

        def write(file: int, content: int, length: int, place: int) -> int:
            self.note("write", self._names[file], place, ctypes.string_at(content, length))
            return int(write_(file, content, length, place))

        def truncate(file: int, length: int) -> int:
            self.note("truncate", self._names[file], length)
            return int(truncate_(file, length))

        def sync(file: int, flags: int) -> int:
            done = int(sync_(file, flags))
            self.note("sync", self._names[file])
            return done

        ours = _Methods()
        ctypes.pointer(ours)[0] = usual
        ours.xWrite = self._callback(_WRITE(write))
        ours.xTruncate = self._callback(_TRUNCATE(truncate))
        ours.xSync = self._callback(_SYNC(sync))
        return ours
