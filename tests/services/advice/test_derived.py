"""What is derived from a log and kept in memory has one owner."""

from __future__ import annotations

import re
from pathlib import Path

import shopfloor.services
from shopfloor.services.advice import derived, log_state
from shopfloor.services.advice.log_state import LogPosterior
from tests.factories import Shop

CACHES = re.compile(r"lru_cache|@cache\b|WeakKeyDictionary\(\)")
NOT_OF_THE_LOG = {"catalogue/threads.py", "health.py"}
"""Which standard thread a text names, and whether a database could be written to: neither follows from a log."""


def test_a_result_is_kept_by_its_data_until_all_is_forgotten() -> None:
    """The same data are worked out once; after `forget` once more."""
    asked: list[int] = []

    @derived.derived(most=2)
    def doubled(number: int) -> int:
        asked.append(number)
        return 2 * number

    assert [2, 2, 4] == [doubled(1), doubled(1), doubled(2)]
    derived.forget()
    assert 2 == doubled(1)
    assert [1, 2, 1] == asked


def test_a_state_of_the_log_stands_until_all_is_forgotten(shop: Shop) -> None:
    """Two sessions read one state; after `forget` it is read again, and says the same."""
    with shop.work.read() as session:
        first = LogPosterior(session)._log
    with shop.work.read() as session:
        assert first is LogPosterior(session)._log
    derived.forget()
    with shop.work.read() as session:
        again = LogPosterior(session)._log
    assert again is not first
    assert again.rows == first.rows


def test_no_other_module_of_the_services_keeps_results() -> None:
    """A cache elsewhere would outlive what it rests on; only the two modules of the state may hold one."""
    root = Path(shopfloor.services.__file__).parent
    allowed = {Path(derived.__file__), Path(log_state.__file__)} | {root / name for name in NOT_OF_THE_LOG}
    found = [path for path in root.rglob("*.py") if CACHES.search(path.read_text(encoding="utf-8"))]
    assert [] == sorted(str(path.relative_to(root)) for path in set(found) - allowed)
