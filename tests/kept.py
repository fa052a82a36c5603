"""What each test would otherwise work out anew for a database and an application of its own: once a process will do.

SQLAlchemy keeps compiled statements by engine, Jinja compiled templates and Werkzeug compiled routes by application;
both are made in every test, and both compile the same all along.
"""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Hashable
from contextlib import closing
from pathlib import Path
from types import CodeType
from typing import Any, ClassVar

from flask import Flask
from jinja2.bccache import Bucket, BytecodeCache
from sqlalchemy import Connection, Dialect, Engine, event
from werkzeug.routing import Rule


def copied(database: Path, to: Path) -> str:
    """Address of a copy of a SQLite file; nobody may have the file open."""
    shutil.copyfile(database, to)
    return f"sqlite:///{to.as_posix()}"


def make_demo(path: Path) -> None:
    """Let the tool make its demo database, as a person would, with everything in the one file."""
    command = [sys.executable, "-m", "shopfloor", "demo", "--no-serve", "--database", f"sqlite:///{path.as_posix()}"]
    done = subprocess.run(command, capture_output=True, encoding="utf-8", timeout=600, check=False)
    assert 0 == done.returncode, done.stderr
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


class Templates(BytecodeCache):
    """Compiled templates by name and text, in memory."""

    def __init__(self) -> None:
        self._codes: dict[tuple[str, str], CodeType | None] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Hand out what was compiled of this very text."""
        bucket.code = self._codes.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what was compiled."""
        self._codes[bucket.key, bucket.checksum] = bucket.code


def compiled_templates() -> None:
    """Let all applications of this process share their compiled templates."""
    Flask.jinja_options = {**Flask.jinja_options, "bytecode_cache": Templates()}


class KnownRule(Rule):
    """A route whose address is put together by a function that was compiled once for all routes of the same text."""

    _builders: ClassVar[dict[Hashable, Callable[..., tuple[str, str]]]] = {}

    def _compile_builder(self, append_unknown: bool = True) -> Callable[..., tuple[str, str]]:
        key = (self.rule, self.subdomain, self.host, repr(self.defaults), append_unknown)
        if key not in self._builders:
            self._builders[key] = super()._compile_builder(append_unknown)
        return self._builders[key]


def compiled_routes() -> None:
    """Let all applications of this process share their compiled routes."""
    Flask.url_rule_class = KnownRule


def compiled_statements() -> None:
    """Let all engines of this process share their compiled statements, which are kept by dialect."""
    dialects: dict[str, Dialect] = {}
    statements: dict[Any, Any] = {}

    @event.listens_for(Engine, "engine_connect")
    def share(connection: Connection) -> None:
        # Connected, hence a dialect that knows its server.
        connection.dialect = connection.engine.dialect = dialects.setdefault(
            connection.dialect.name, connection.dialect
        )
        connection.execution_options(compiled_cache=statements)
