"""Records what happens on the floor as rows, with ids and times."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from seed.clock import Clock
from seed.life import TapInHand
from seed.rows import Cancellation, Correction, GaugeCheck, Incident, Movement, Run, Tap
from shopfloor.core.vocabulary import Cause, GaugeResult, MovementKind

_NAMESPACE = uuid.UUID("5b0c4a0e-6d3f-4f5e-9c39-2f6f4a1d7e10")


@dataclass
class Journal:
    """Every row of the log so far, in the order in which things were decided."""

    clock: Clock
    seed: int
    taps: list[Tap] = field(default_factory=list)
    runs: list[Run] = field(default_factory=list)
    checks: list[GaugeCheck] = field(default_factory=list)
    incidents: list[Incident] = field(default_factory=list)
    movements: list[Movement] = field(default_factory=list)
    corrections: list[Correction] = field(default_factory=list)
    cancellations: list[Cancellation] = field(default_factory=list)
    _ids: int = 0

    def new_id(self) -> uuid.UUID:
        """An id that is the same whenever the same seed is simulated."""
        self._ids += 1
        return uuid.uuid5(_NAMESPACE, f"{self.seed}/{self._ids}")

    def move(
        self,
        second: float,
        kind: MovementKind,
        tap_type: str,
        quantity: int,
        person: str,
        *,
        tap: str | None = None,
        station: str | None = None,
        note: str = "",
    ) -> None:
        """Record a stock movement."""
        at = self.clock.at(second)
        self.movements.append(Movement(self.new_id(), at, kind, tap_type, tap, quantity, station, person, note))

    def check(self, second: float, person: str, tap: str, result: GaugeResult, note: str = "") -> None:
        """Record a GO/NO-GO check."""
        self.checks.append(GaugeCheck(self.new_id(), self.clock.at(second), person, tap, result, note))

    def report(self, run: Run, cause: Cause, account: str, delay: timedelta) -> None:
        """Report why the tap that broke in `run`."""
        self.incidents.append(Incident(self.new_id(), run.id, run.ended_at + delay, run.person, cause, account))

    def first_seen(self, tap: TapInHand, received_at: datetime, holes_before: int | None) -> None:
        """Record a tap that gets its code now."""
        self.taps.append(Tap(tap.code, tap.kind.code, tap.lot, tap.regrinds, holes_before, received_at))
