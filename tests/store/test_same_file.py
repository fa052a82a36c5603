"""A database whose file was moved away, removed or replaced takes nothing: entries would go where nobody sees them."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy.exc import OperationalError

from shopfloor.services.health import is_ready
from shopfloor.services.runs.runs import log_run
from shopfloor.store import Run
from tests.factories import Shop, open_shop


@pytest.fixture
def shop(sqlite_url: str, tmp_path: Path) -> Iterator[Shop]:
    """A small shop in a file, with connections open to it."""
    shop = open_shop(sqlite_url, tmp_path)
    yield shop
    shop.work.close()


def moved(path: Path) -> None:
    """It lies elsewhere."""
    path.rename(path.with_suffix(".moved"))


def removed(path: Path) -> None:
    """It is gone."""
    path.unlink()


def replaced(path: Path) -> None:
    """Another file, as a backup, lies in its place."""
    shutil.copyfile(path, path.with_suffix(".backup"))
    path.with_suffix(".backup").replace(path)


def with_its_folder(path: Path) -> None:
    """The whole folder lies elsewhere."""
    path.parent.rename(path.parent.with_name(path.parent.name + "-moved"))


@pytest.mark.parametrize("lost", [moved, removed, replaced, with_its_folder])
@pytest.mark.parametrize("is_pooled", [True, False])
def test_a_file_that_is_no_longer_there_takes_no_run(lost: Callable[[Path], None], is_pooled: bool, shop: Shop) -> None:
    """Neither on a connection that is open nor on a new one, which would make an empty file; nor is it healthy."""
    path = Path(shop.work.settings.database.removeprefix("sqlite:///"))
    lost(path)
    there = path.exists()
    if not is_pooled:
        shop.work.engine.dispose()
    with pytest.raises(OperationalError, match="not the one that was opened"):
        log_run(shop.work, shop.entry())
    assert not is_ready(shop.work)
    assert there == path.exists()


def test_a_file_that_comes_back_is_used_again(shop: Shop) -> None:
    """The very same one."""
    path = Path(shop.work.settings.database.removeprefix("sqlite:///"))
    moved(path)
    with pytest.raises(OperationalError):
        log_run(shop.work, shop.entry())
    path.with_suffix(".moved").rename(path)
    entry = shop.entry()
    log_run(shop.work, entry)
    with shop.work.read() as session:
        assert session.get(Run, entry.id) is not None
