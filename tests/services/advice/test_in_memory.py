"""What is worked out from a log and kept in memory has one owner."""

from __future__ import annotations

import re
from pathlib import Path

import shopfloor.services
from shopfloor.services.advice import estimates
from tests.factories import Shop
from tests.services.advice.kept_log import lives, log

CACHES = re.compile(r"lru_cache|@cache\b|WeakKeyDictionary\(\)")
NOT_OF_THE_LOG = {"catalogue/threads.py", "health.py", "upkeep/timer.py"}
"""Which standard thread a text names, whether a database could be written to, and how the last backup went: none
follows from a log."""


def test_a_young_log_is_worked_out_once_until_it_goes_on(shop: Shop) -> None:
    """Two sessions read one state; after a run, and after `forget`, it is read again."""

    def now() -> estimates.LogEstimates:
        with shop.work.read() as session:
            return estimates.current(session, shop.work.settings)

    lives(shop, taps=2)
    first = now()
    assert first is now()
    log(shop, "T1", 5)
    second = now()
    assert second not in (first, None)
    estimates.forget()
    assert second is not now()
    assert second.facts == now().facts


def test_no_other_module_of_the_services_keeps_results() -> None:
    """A cache elsewhere would outlive what it rests on."""
    root = Path(shopfloor.services.__file__).parent
    allowed = {Path(estimates.__file__)} | {root / name for name in NOT_OF_THE_LOG}
    found = [path for path in root.rglob("*.py") if CACHES.search(path.read_text(encoding="utf-8"))]
    assert [] == sorted(str(path.relative_to(root)) for path in set(found) - allowed)
