"""What a server logs: one line each, with time, level and the request's number, and nothing that people have entered.

Troubles go to standard error. In a folder for logs, if there is one, stands each request as well; a full file there is
set aside under a number, and the oldest is deleted.

A line tells where in the program something failed and of which kind it was. Texts that came with it stay out, since
they quote what was entered: so do the words of exceptions, and those of other people's libraries.

What we log ourselves holds ids, pages and folders only, and SQLAlchemy is told to hide parameters (`store.engine`).
"""

from __future__ import annotations

import logging
import sys
import threading
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from logging.handlers import RotatingFileHandler
from pathlib import Path
from types import TracebackType
from typing import Any

from shopfloor.core.errors import InputError
from shopfloor.settings import PREFIX
from shopfloor.web.monitoring.request_ids import request_id

LARGEST_FILE, FILES_KEPT = 10_000_000, 5
"""Bytes of a log file, and how many full ones are kept beside it."""

OURS = ("shopfloor", "seed", "migrations")
_LEFT_OUT, _WARNINGS = "...", "py.warnings"
_MOST_STEPS = 12


class LineFormatter(logging.Formatter):
    """UTC time, level, number of the request, logger, message, and where an exception came from: all in one line."""

    def format(self, record: logging.LogRecord) -> str:
        """The line."""
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        told = [at, record.levelname, request_id(), record.name, _message(record)]
        if record.exc_info and record.exc_info[1]:
            told.append(" <- ".join(_told(record.exc_info[1])))
        return _in_one_line(" ".join(told))


class _StandardError(logging.StreamHandler[Any]):
    """Writes to what is standard error at the time."""

    def __init__(self) -> None:
        super().__init__()
        self.setLevel(logging.WARNING)
        self.setFormatter(LineFormatter())

    @property
    def stream(self) -> Any:
        """Standard error."""
        return sys.stderr

    @stream.setter
    def stream(self, value: Any) -> None:
        """Ignored: it stays what it is."""


@contextmanager
def written_in_lines(folder: str = "", name: str = "serve") -> Iterator[None]:
    """Within this context, each log record, warning and thread failure becomes one line on standard error.

    With a folder, the same lines and one for each request go to the file of that name there, too: one a program, since
    two could not set the same file aside.
    """
    root, ours, hook = logging.getLogger(), logging.getLogger(OURS[0]), threading.excepthook
    handlers: list[logging.Handler] = [_StandardError(), *([_file(Path(folder), name)] if folder else [])]
    level = ours.level
    ours.setLevel(logging.INFO if folder else level)
    for handler in handlers:
        root.addHandler(handler)
    logging.captureWarnings(capture=True)
    threading.excepthook = _thread_failed
    try:
        yield
    finally:
        threading.excepthook = hook
        logging.captureWarnings(capture=False)
        ours.setLevel(level)
        for handler in handlers:
            root.removeHandler(handler)
            handler.close()


def _file(folder: Path, name: str) -> logging.Handler:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handler = RotatingFileHandler(
            folder / f"{name}.log", maxBytes=LARGEST_FILE, backupCount=FILES_KEPT, encoding="utf-8"
        )
    except OSError as error:
        what = f"{folder} cannot be written to ({error.strerror})"
        raise InputError.of(f"{PREFIX}LOG_FOLDER", what, "name a folder that the server may write to") from None
    handler.setFormatter(LineFormatter())
    return handler


def _thread_failed(args: threading.ExceptHookArgs) -> None:
    if args.exc_value is not None:
        told = (args.exc_type, args.exc_value, args.exc_traceback)
        logging.getLogger(__name__).error("a thread failed", exc_info=told)


def _message(record: logging.LogRecord) -> str:
    """The message; of messages that are not our own, only the numbers."""
    if record.name == _WARNINGS:
        # The place and the kind come before the words.
        return ": ".join(record.getMessage().split(": ")[:2])
    if record.name.split(".")[0] in OURS or not record.args:
        return record.getMessage()
    args = record.args if isinstance(record.args, tuple) else (record.args,)
    kept = tuple(arg if isinstance(arg, int | float) else _LEFT_OUT for arg in args)
    try:
        return str(record.msg) % kept
    except (TypeError, ValueError):
        return str(record.msg)


def _told(error: BaseException) -> Iterator[str]:
    """Kinds and places of an exception and its causes, the newest first."""
    seen: set[int] = set()
    next_: BaseException | None = error
    while next_ is not None and id(next_) not in seen:
        seen.add(id(next_))
        yield f"{type(next_).__module__}.{type(next_).__qualname__} at {_places(next_.__traceback__)}"
        next_ = next_.__cause__ or (None if next_.__suppress_context__ else next_.__context__)


def _places(where: TracebackType | None) -> str:
    """Files, lines and functions, the innermost first."""
    steps = traceback.extract_tb(where)[::-1][:_MOST_STEPS]
    return ", ".join(f"{'/'.join(Path(step.filename).parts[-2:])}:{step.lineno} {step.name}" for step in steps)


def _in_one_line(text: str) -> str:
    """The text, with every character that could begin another line, or hide one, written out."""
    return "".join(char if char.isprintable() else char.encode("unicode_escape").decode("ascii") for char in text)
