"""Photographs of a break: stored once, beside the database, for runs whose tap broke; cancelled, never lost."""

from __future__ import annotations

import threading
import uuid
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pytest

from shopfloor.core.errors import Conflict, InputError, NotFound
from shopfloor.core.vocabulary import TapEnd
from shopfloor.services.quality.breakage import incidents
from shopfloor.services.quality.images import as_photograph
from shopfloor.services.quality.photographs import (
    MOST_OF_A_BREAK,
    NotKept,
    cancel_photograph,
    keep_photograph,
    photograph,
    photographs_of,
    remove_all_files,
)
from shopfloor.services.record.work import Work
from shopfloor.services.runs.runs import cancel_run, correct_run, log_run
from shopfloor.services.station.log_entries import entry_of
from shopfloor.settings import Settings
from shopfloor.store import Photograph
from shopfloor.store.picture_folder import keep_picture, picture_folder
from tests.factories import Shop
from tests.pictures import encoded, picture
from tests.services.batches import broken
from tests.services.conftest import ON_BOTH
from tests.services.looking import breaks

SENT = encoded(picture())
OTHER = encoded(picture(320, 240))


def kept(shop: Shop, run: uuid.UUID, content: bytes = SENT) -> uuid.UUID:
    """Store a photograph under a new id."""
    id_ = uuid.uuid4()
    assert keep_photograph(shop.work, id_, run, content)
    return id_


def files(shop: Shop) -> list[str]:
    """What lies in the folder."""
    folder = picture_folder(shop.work.settings)
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []


def test_a_photograph_is_stored_beside_the_database(shop: Shop) -> None:
    """Encoded anew, under its id, with who, when, its bytes and their fingerprint on record."""
    run = broken(shop)
    id_ = kept(shop, run)
    content, fingerprint = photograph(shop.work, id_)
    assert (as_photograph(SENT), sha256(content).hexdigest()) == (content, fingerprint)
    assert [f"{id_}.jpg"] == files(shop)
    with shop.work.read() as session:
        row = session.get_one(Photograph, id_)
        assert (run, len(content), fingerprint) == (row.run_id, row.size, row.sha256)
        assert (sha256(SENT).hexdigest(), shop.clock()) == (row.sent_sha256, row.recorded_at)
    (shown,) = photographs_of(shop.work, run)
    assert (id_, "Ada K.", None, True) == (shown.id, shown.by, shown.change, shown.is_there)
    assert 1 == entry_of(shop.work, run).photographs == breaks(incidents(shop.work))[0].photographs


def test_what_finds_no_room_is_not_decoded(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """A photograph too many, or of a run without a break, is refused before any work is done on it."""
    full, whole = broken(shop), log_run(shop.work, shop.entry()).run_id
    for _ in range(MOST_OF_A_BREAK):
        kept(shop, full)

    def decode(content: bytes) -> bytes:
        raise AssertionError("it was decoded")

    monkeypatch.setattr("shopfloor.services.quality.photographs.as_photograph", decode)
    for run in (full, whole):
        with pytest.raises(Conflict):
            keep_photograph(shop.work, uuid.uuid4(), run, SENT)


def test_the_folder_lies_where_the_shop_says(sqlite_shop: Shop, tmp_path: Path) -> None:
    """Beside the SQLite file; in the data folder for a server's database; or where a setting says."""
    url = sqlite_shop.work.settings.database
    beside = Path(f"{url.removeprefix('sqlite:///')}.photographs")
    assert beside == picture_folder(sqlite_shop.work.settings)
    server = Settings(database="postgresql://ada@db/shop", data_folder=tmp_path)
    assert tmp_path / "photographs" == picture_folder(server)
    assert tmp_path / "here" == picture_folder(replace(server, photographs=str(tmp_path / "here")))


def test_sent_again_it_is_the_same(shop: Shop) -> None:
    """However often; a second one gets an id of its own."""
    run = broken(shop)
    id_ = kept(shop, run)
    assert [False, False] == [keep_photograph(shop.work, id_, run, SENT) for _ in range(2)]
    kept(shop, run, OTHER)
    assert 2 == len(photographs_of(shop.work, run)) == len(files(shop))


def test_another_one_under_the_same_id_is_refused(shop: Shop) -> None:
    """And changes nothing: neither another picture nor the same one for another break."""
    run = broken(shop)
    id_ = kept(shop, run)
    before = photograph(shop.work, id_)
    elsewhere = log_run(shop.work, shop.entry(tap="T2", tap_end=TapEnd.BROKEN)).run_id
    for to, content in ((run, OTHER), (elsewhere, SENT)):
        with pytest.raises(Conflict, match="another photograph is stored under it"):
            keep_photograph(shop.work, id_, to, content)
    assert before == photograph(shop.work, id_)


@ON_BOTH
def test_many_at_once_are_stored_once(shop: Shop) -> None:
    """Two tabs send the same photograph; one of them stores it."""
    run, id_ = broken(shop), uuid.uuid4()
    answers: list[bool] = []
    threads = [
        threading.Thread(target=lambda: answers.append(keep_photograph(shop.work, id_, run, SENT))) for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [False, False, False, True] == sorted(answers)
    assert [f"{id_}.jpg"] == files(shop)


def test_only_a_broken_tap_has_photographs(shop: Shop) -> None:
    """Not a run whose tap is still good, nor one that counts no longer; a corrected one keeps its own."""
    good = log_run(shop.work, shop.entry()).run_id
    gone = log_run(shop.work, shop.entry(tap="T2", tap_end=TapEnd.BROKEN)).run_id
    cancel_run(shop.work, gone, "entered twice", "bo")
    for run in (good, gone, uuid.uuid4()):
        with pytest.raises(Conflict, match="no tap broke in it, or it no longer counts"):
            keep_photograph(shop.work, uuid.uuid4(), run, SENT)
    assert [] == files(shop)
    run = broken(shop)
    first = kept(shop, run)
    shop.clock.move(minutes=1)
    corrected = shop.entry(tap="N1", tap_end=TapEnd.BROKEN, holes=40)
    correct_run(shop.work, run, corrected, "counted again", "bo")
    second = kept(shop, corrected.id, OTHER)
    assert [first, second] == [one.id for one in photographs_of(shop.work, run)]
    assert 2 == entry_of(shop.work, corrected.id).photographs


@ON_BOTH
def test_a_break_has_so_many_and_no_more(shop: Shop) -> None:
    """One that is cancelled makes room."""
    run = broken(shop)
    ids = [kept(shop, run, encoded(picture(100 + n, 100))) for n in range(MOST_OF_A_BREAK)]
    with pytest.raises(Conflict, match="this break has 4 photographs already"):
        keep_photograph(shop.work, uuid.uuid4(), run, SENT)
    assert MOST_OF_A_BREAK == len(files(shop))
    cancel_photograph(shop.work, run, ids[0], "blurred", "bo")
    kept(shop, run)


def test_a_cancelled_one_stays_readable(shop: Shop) -> None:
    """With who, when and why; twice is once; it counts no longer."""
    run = broken(shop)
    id_ = kept(shop, run)
    for reason in ("of another tap", "again"):
        cancel_photograph(shop.work, run, id_, reason, "bo")
    (shown,) = photographs_of(shop.work, run)
    assert shown.change is not None
    assert ("Bo L.", shop.clock(), "of another tap") == (shown.change.by, shown.change.at, shown.change.reason)
    assert as_photograph(SENT) == photograph(shop.work, id_)[0]
    assert 0 == breaks(incidents(shop.work))[0].photographs


@pytest.mark.parametrize(
    ("reason", "by", "told"), [(" ", "bo", "reason: it is missing"), ("so", "eve", "not a person of this shop")]
)
def test_cancelling_asks_why_and_who(sqlite_shop: Shop, reason: str, by: str, told: str) -> None:
    """As for all of the log."""
    run = broken(sqlite_shop)
    id_ = kept(sqlite_shop, run)
    with pytest.raises(InputError, match=told):
        cancel_photograph(sqlite_shop.work, run, id_, reason, by)


def test_a_photograph_of_another_break_is_not_cancelled_here(sqlite_shop: Shop) -> None:
    """Nor one that nobody knows."""
    run = broken(sqlite_shop)
    elsewhere = log_run(sqlite_shop.work, sqlite_shop.entry(tap="T2", tap_end=TapEnd.BROKEN)).run_id
    id_ = kept(sqlite_shop, run)
    for to, which in ((elsewhere, id_), (run, uuid.uuid4())):
        with pytest.raises(NotFound):
            cancel_photograph(sqlite_shop.work, to, which, "wrong", "bo")


def test_a_file_that_is_missing_or_changed_is_not_served(sqlite_shop: Shop) -> None:
    """A database that was brought back without its folder; somebody who put another file there."""
    run = broken(sqlite_shop)
    id_ = kept(sqlite_shop, run)
    place = picture_folder(sqlite_shop.work.settings) / f"{id_}.jpg"
    place.write_bytes(b"<html>")
    with pytest.raises(NotFound):
        photograph(sqlite_shop.work, id_)
    place.unlink()
    with pytest.raises(NotFound):
        photograph(sqlite_shop.work, id_)
    assert [False] == [one.is_there for one in photographs_of(sqlite_shop.work, run)]


def test_a_folder_that_cannot_be_written_stores_nothing(sqlite_shop: Shop, tmp_path: Path) -> None:
    """No row without its file; once the folder is put right the same sending succeeds."""
    run, id_ = broken(sqlite_shop), uuid.uuid4()
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    settings = replace(sqlite_shop.work.settings, photographs=str(tmp_path / "taken"))
    with pytest.raises(NotKept):
        keep_photograph(Work(sqlite_shop.work.engine, settings, sqlite_shop.clock), id_, run, SENT)
    assert () == photographs_of(sqlite_shop.work, run)
    assert keep_photograph(sqlite_shop.work, id_, run, SENT)


def test_files_go_only_with_their_whole_record(sqlite_shop: Shop) -> None:
    """A demo that is made anew leaves none behind, and takes none away that is not its own."""
    run = broken(sqlite_shop)
    kept(sqlite_shop, run)
    keep_picture(picture_folder(sqlite_shop.work.settings), uuid.UUID(int=7), b"of another record")
    remove_all_files(sqlite_shop.work)
    assert [f"{uuid.UUID(int=7)}.jpg"] == files(sqlite_shop)


def test_half_a_file_never_has_the_name_of_a_whole_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk leaves nothing behind, and what was there before stays."""
    id_ = uuid.uuid4()
    keep_picture(tmp_path, id_, b"whole")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="No space"):
        keep_picture(tmp_path, id_, b"half")
    assert [f"{id_}.jpg"] == [path.name for path in tmp_path.iterdir()]
    assert b"whole" == (tmp_path / f"{id_}.jpg").read_bytes()
