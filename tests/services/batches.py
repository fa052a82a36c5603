"""Batches that people log in tests of services."""

from __future__ import annotations

import uuid
from typing import Any

from shopfloor.core.vocabulary import Cause, PartFate, TapEnd
from shopfloor.services.ledger.taps import receive_tap
from shopfloor.services.runs.runs import log_run
from tests.factories import Shop
from tests.services.stock import M8


def broken(shop: Shop, **fields: Any) -> uuid.UUID:
    """N1, fresh from the crib, breaks in its first run."""
    receive_tap(shop.work, "N1", M8, "bo")
    shop.clock.move(minutes=1)
    said = {"tap_end": TapEnd.BROKEN, "cause": Cause.TOO_FAST, "note": "Loud.", "part_fate": PartFate.GOOD, **fields}
    return log_run(shop.work, shop.entry(tap="N1", **said)).run_id


def log(shop: Shop, **changes: Any) -> uuid.UUID:
    """Log a run a minute later."""
    shop.clock.move(minutes=1)
    return log_run(shop.work, shop.entry(**changes)).run_id


def raw(**changes: object) -> dict[str, object]:
    """A batch as a form sends it."""
    typed: dict[str, object] = {
        "id": str(uuid.uuid4()), "batch_id": str(uuid.uuid4()), "person": "ada", "station": "arm", "job": "J1",
        "tap": "T1", "holes": "48", "cutting_slips": "0", "rpm": "250", "tap_end": "still good", "part_fate": "",
        "hole_not_known": False,
    }  # fmt: skip
    return typed | changes
