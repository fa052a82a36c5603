"""A shop is backed up while it runs, and brought back by the commands that README gives."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import zipfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from sqlalchemy import select

from shopfloor.cli import main
from shopfloor.core.errors import InputError
from shopfloor.services.runs.runs import log_run
from shopfloor.services.upkeep import archive
from shopfloor.services.upkeep.contents import contents, differing
from shopfloor.services.upkeep.copies import one_state
from shopfloor.services.upkeep.making import back_up
from shopfloor.services.upkeep.restoring import restore
from shopfloor.settings import Settings
from shopfloor.store import Run
from shopfloor.store.upgrade import downgrade, head, upgrade
from tests.factories import Shop, open_shop, reopen_shop
from tests.kept import copied

NOW = datetime(2026, 12, 1, 10, 3, tzinfo=UTC)
PICTURE = "0f0e0d0c-0b0a-4000-8000-000000000001.jpg"


def shopfloor(*words: str | Path, typed: str = "") -> Result:
    """The command line with these words."""
    return CliRunner().invoke(main, [str(word) for word in words], input=typed, catch_exceptions=False)


def work_on(shop: Shop, runs: int) -> None:
    """So many runs more."""
    for number in range(runs):
        shop.clock.move(minutes=1)
        log_run(shop.work, shop.entry(holes=1 + number))


def holes(shop: Shop) -> list[int]:
    """The holes of every run."""
    with shop.work.read() as session:
        return list(session.scalars(select(Run.holes).order_by(Run.ended_at)))


@pytest.fixture
def here(tmp_path: Path, migrated_sqlite: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a blank in its name, with a shop in it as the server lays it out, and three runs."""
    folder = tmp_path / "the shop"
    data = folder / "instance"
    (data / "shopfloor.db.photographs").mkdir(parents=True)
    (data / "shopfloor.db.photographs" / PICTURE).write_bytes(b"a picture")
    (data / "secret-key").write_text("secret", encoding="ascii")
    copied(migrated_sqlite, data / "shopfloor.db")
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def shop(here: Path) -> Iterator[Shop]:
    """The shop while its server runs."""
    shop = open_shop("sqlite:///instance/shopfloor.db", here / "instance")
    work_on(shop, 3)
    yield shop
    shop.work.close()


def settings(folder: Path, database: str = "") -> Settings:
    """Settings of a shop in this folder."""
    return Settings(database=database or f"sqlite:///{(folder / 'shopfloor.db').as_posix()}", data_folder=folder)


def files(folder: Path) -> list[str]:
    """The names of all files in a folder and the folders in it, sorted."""
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


def test_a_shop_comes_back_by_the_commands_of_readme(shop: Shop, here: Path) -> None:
    """Three runs are backed up while the newest stand in the -wal alone; two more are not in the backup."""
    assert (here / "instance" / "shopfloor.db-wal").stat().st_size > 0
    assert 0 == shopfloor("backup", "monday.backup").exit_code
    work_on(shop, 2)
    shop.work.close()
    (here / "instance").rename(here / "old")
    done = shopfloor("restore", "monday.backup")
    assert (0, True) == (done.exit_code, "tables are equal" in done.output)
    assert ["secret-key", "shopfloor.db", f"shopfloor.db.photographs/{PICTURE}"] == files(here / "instance")
    again = reopen_shop("sqlite:///instance/shopfloor.db", here / "instance")
    with closing(again.work):
        assert [1, 2, 3] == holes(again)


def test_a_plain_copy_of_the_file_loses_what_a_backup_keeps(shop: Shop, here: Path, tmp_path: Path) -> None:
    """Why the file must not be copied: the newest runs are not in it yet."""
    shutil.copyfile(here / "instance" / "shopfloor.db", tmp_path / "plain.db")
    back_up(settings(here / "instance"), tmp_path / "good.backup", NOW)
    restore(tmp_path / "good.backup", settings(tmp_path / "again"))
    counts = []
    for path in (tmp_path / "plain.db", tmp_path / "again" / "shopfloor.db"):
        with closing(sqlite3.connect(path)) as connection:
            counts.append(connection.execute("SELECT count(*) FROM run").fetchone()[0])
    assert [0, 3] == counts


@pytest.mark.usefixtures("shop")
def test_in_a_folder_a_backup_is_named_by_its_moment(here: Path, tmp_path: Path) -> None:
    """Nothing else is left there."""
    made = back_up(settings(here / "instance"), here, NOW)
    assert ("shopfloor-20261201-100300.backup", 1) == (made.path.name, len([*here.glob("*backup*")]))
    assert {"instance", made.path.name} == {path.name for path in here.iterdir()}


@pytest.mark.usefixtures("shop")
@pytest.mark.parametrize("target", ["there.backup", "no folder/a.backup"])
def test_a_target_that_cannot_be_written_is_told(here: Path, target: str) -> None:
    """With exit code 2, and what was there stays."""
    (here / "there.backup").write_text("older", encoding="ascii")
    done = shopfloor("backup", target)
    assert (2, "older") == (done.exit_code, (here / "there.backup").read_text(encoding="ascii"))
    assert ["instance", "there.backup"] == sorted(path.name for path in here.iterdir())


@pytest.mark.usefixtures("shop")
def test_a_full_disk_leaves_nothing_half_written(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Told as what it is."""

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("shopfloor.services.upkeep.making._put", full)
    done = shopfloor("backup", "a.backup")
    assert (2, True) == (done.exit_code, "No space left on device" in done.output)
    assert ["instance"] == [path.name for path in here.iterdir()]


@pytest.mark.usefixtures("shop")
def test_an_encrypted_backup_opens_by_its_passphrase_alone(here: Path, tmp_path: Path) -> None:
    """Typed or in a file; a wrong one, none, and a damaged file are told apart and change nothing."""
    (here / "words").write_text("tap drill\n", encoding="utf-8")
    assert 0 == shopfloor("backup", "a.backup", "--passphrase", typed="tap drill\ntap drill\n").exit_code
    sealed = (here / "a.backup").read_bytes()
    assert (False, False) == (zipfile.is_zipfile(here / "a.backup"), b"secret" in sealed)
    (here / "changed").write_bytes(sealed[:-20] + bytes([sealed[-20] ^ 1]) + sealed[-19:])
    (here / "cut").write_bytes(sealed[:-1])
    (here / "longer").write_bytes(sealed + b"\0\0\0\5abcde")
    target = "sqlite:///" + (tmp_path / "new" / "a.db").as_posix()
    bad = [
        (shopfloor("restore", "a.backup", "--database", target), "it is encrypted"),
        (shopfloor("restore", "a.backup", "--passphrase", "--database", target, typed="drill\n"), "does not open"),
        *((shopfloor("restore", name, "--passphrase-file", "words", "--database", target), "damaged")
          for name in ("changed", "cut", "longer")),
    ]  # fmt: skip
    assert [2] * 5 == [done.exit_code for done, _ in bad]
    assert [] == [done.output for done, word in bad[1:] if word not in done.output]
    assert not (tmp_path / "new").exists()
    assert 0 == shopfloor("restore", "a.backup", "--passphrase-file", "words", "--database", target).exit_code


@pytest.mark.usefixtures("shop")
def test_a_damaged_backup_or_another_file_changes_nothing(here: Path, tmp_path: Path) -> None:
    """Cut, with another photograph than its digest says, or no backup at all."""
    good = back_up(settings(here / "instance"), tmp_path / "good.backup", NOW).path
    (tmp_path / "cut").write_bytes(good.read_bytes()[:-30])
    (tmp_path / "text").write_text("no backup", encoding="ascii")
    with zipfile.ZipFile(good) as whole, zipfile.ZipFile(tmp_path / "changed", "w") as changed:
        for name in whole.namelist():
            changed.writestr(name, b"another" if name.endswith(".jpg") else whole.read(name))
    for name in ("cut", "text", "changed", "nowhere"):
        with pytest.raises(InputError, match=r"damaged|cannot be read"):
            restore(tmp_path / name, settings(tmp_path / "new"))
    assert not (tmp_path / "new").exists()


@pytest.mark.usefixtures("shop")
def test_a_backup_of_a_newer_schema_is_refused_in_words(
    here: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By its schema or by its form."""
    made = back_up(settings(here / "instance"), tmp_path / "good.backup", NOW)
    for changed in ({"schema": "9999"}, {"format": 99}):
        later = replace(made.manifest, **changed)
        monkeypatch.setattr(archive, "FORMAT", 1)
        with zipfile.ZipFile(made.path) as whole, zipfile.ZipFile(tmp_path / "later", "w") as copy:
            for name in whole.namelist():
                copy.writestr(name, later.written() if name == "manifest.json" else whole.read(name))
        with pytest.raises(InputError, match="newer"):
            restore(tmp_path / "later", settings(tmp_path / "new"))


@pytest.mark.usefixtures("shop")
@pytest.mark.parametrize("name", ["a.db", "a.db-wal", "a.db.photographs/one.jpg", "secret-key"])
def test_nothing_is_restored_over_anything(here: Path, tmp_path: Path, name: str) -> None:
    """A database, what a server left beside one, photographs, another key: each stays as it is, with exit code 2."""
    back_up(settings(here / "instance"), tmp_path / "good.backup", NOW)
    there = tmp_path / "new" / name
    there.parent.mkdir(parents=True)
    there.write_text("older", encoding="ascii")
    with pytest.raises(InputError, match=r"not empty|lies there|another one"):
        restore(tmp_path / "good.backup", Settings(f"sqlite:///{tmp_path / 'new' / 'a.db'}", tmp_path / "new"))
    assert ([name], "older") == (files(tmp_path / "new"), there.read_text(encoding="ascii"))


@pytest.mark.usefixtures("shop")
def test_an_equal_key_stays(here: Path, tmp_path: Path) -> None:
    """The shop is brought back beside it."""
    back_up(settings(here / "instance"), tmp_path / "good.backup", NOW)
    (tmp_path / "new").mkdir()
    shutil.copy(here / "instance" / "secret-key", tmp_path / "new")
    restore(tmp_path / "good.backup", settings(tmp_path / "new"))
    assert "secret" == (tmp_path / "new" / "secret-key").read_text(encoding="ascii")


@pytest.mark.usefixtures("shop")
def test_a_photograph_that_is_missing_on_disk_is_counted(here: Path, tmp_path: Path) -> None:
    """The backup is made all the same."""
    with closing(sqlite3.connect("instance/shopfloor.db")) as connection:  # which looks at no foreign keys
        columns = [row[1] for row in connection.execute("PRAGMA table_info(photograph)")]
        special = {"id": "0f0e0d0c0b0a40008000000000000002", "at": "2026-12-01 10:00:00.000000"}
        row = [special.get(name.rsplit("_")[-1] if name.endswith("_at") else name, 1) for name in columns]
        connection.execute(f"INSERT INTO photograph VALUES ({', '.join('?' * len(row))})", row)
        connection.commit()
    made = back_up(settings(here / "instance"), tmp_path / "good.backup", NOW)
    assert 1 == made.manifest.missing_photographs


def test_a_shop_on_either_database_comes_back(database_url: str, empty_database_url: str, tmp_path: Path) -> None:
    """Table by table, and its next run gets the next number."""
    shop = open_shop(database_url, tmp_path / "one")
    with closing(shop.work):
        work_on(shop, 4)
        made = back_up(shop.work.settings, tmp_path / "a.backup", NOW, b"words")
    if made.manifest.kind != ("sqlite" if empty_database_url.startswith("sqlite") else "postgresql"):
        with pytest.raises(InputError, match="same kind"):
            restore(made.path, settings(tmp_path / "two", empty_database_url), b"words")
        return
    restore(made.path, settings(tmp_path / "two", empty_database_url), b"words")
    with one_state(empty_database_url) as connection:
        assert [] == differing(contents(connection), made.manifest.tables)
    with pytest.raises(InputError, match="not empty"):
        restore(made.path, settings(tmp_path / "two", empty_database_url), b"words")
    again = reopen_shop(empty_database_url, tmp_path / "two", shop.clock())
    with closing(again.work):
        work_on(again, 1)
        assert [1, 2, 3, 4, 1] == holes(again)


@pytest.fixture
def upgraded(database_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A shop with three runs whose database was upgraded from the schema before, with an address for commands."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SHOPFLOOR_DATA_FOLDER", str(tmp_path / "data"))
    shop = open_shop(database_url, tmp_path / "data")
    work_on(shop, 3)
    shop.work.close()
    downgrade(database_url, "-1")
    done = shopfloor("upgrade", "--database", database_url)
    assert (0, True) == (done.exit_code, "before-upgrade-" in done.output)
    return database_url


def schema(url: str) -> str:
    """The schema of a database."""
    with one_state(url) as connection:
        return str(connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one())


def test_an_upgrade_can_be_taken_back(upgraded: str) -> None:
    """To the schema and rows from before; a second time there is nothing to go back to, and one may upgrade again."""
    assert 0 == shopfloor("upgrade", "--back", "--database", upgraded).exit_code
    assert head() != schema(upgraded)
    assert 2 == shopfloor("upgrade", "--back", "--database", upgraded).exit_code
    upgrade(upgraded)
    again = reopen_shop(upgraded, Path("data"))
    with closing(again.work):
        assert [1, 2, 3] == holes(again)


def test_what_was_recorded_since_is_not_taken_back_unless_it_is_exported(upgraded: str) -> None:
    """Without a file for it nothing happens; with one its runs are in there, and all of it is in a backup."""
    shop = reopen_shop(upgraded, Path("data"))
    with closing(shop.work):
        shop.clock.move(hours=1)
        work_on(shop, 1)
    done = shopfloor("upgrade", "--back", "--database", upgraded)
    assert (2, True, head()) == (done.exit_code, "(run)" in done.output, schema(upgraded))
    done = shopfloor("upgrade", "--back", "--export", "runs.csv", "--database", upgraded)
    assert (0, 5) == (done.exit_code, len(Path("runs.csv").read_text(encoding="utf-8").splitlines()))
    assert head() != schema(upgraded)
    (left,) = Path("data/backups").glob("before-going-back-*.backup")
    with zipfile.ZipFile(left) as whole:
        assert 4 == json.loads(whole.read("manifest.json"))["tables"]["run"]["rows"]


def test_an_upgrade_is_not_taken_back_under_a_server(upgraded: str) -> None:
    """Whoever has the database open is asked to stop."""
    shop = reopen_shop(upgraded, Path("data"))
    with closing(shop.work):
        assert [1, 2, 3] == holes(shop)
        done = shopfloor("upgrade", "--back", "--database", upgraded)
    assert (2, True, head()) == (done.exit_code, "stop it first" in done.output, schema(upgraded))


def test_a_new_database_and_one_that_is_up_to_date_are_not_backed_up(sqlite_url: str, tmp_path: Path) -> None:
    """There is nothing to go back to."""
    os.environ.pop("SHOPFLOOR_DATA_FOLDER", None)
    done = shopfloor("upgrade", "--database", sqlite_url)
    assert (0, False) == (done.exit_code, "Backed up" in done.output)
