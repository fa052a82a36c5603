"""From a tap's log to its lives: the one place where holes, state and observation of a tap are derived.

The rules are those of the trade (common practice, no source): a life starts when a tap is received or reground and
ends when it breaks, wears, chips, is changed in time or lost. What is known of its end becomes an observation: exact,
interval-censored, right-censored, left-truncated where the tap had made holes before it was first seen, or none
where nobody knows how many.

A tap that is worn at the end of a run became worn somewhere in it; one that failed the gauge, somewhere since the last
check that passed, as only the gauge can tell. For the curve of one condition a life is split where its conditions
change: censored there, left-truncated in the next stretch (episode splitting).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import IntEnum

from shopfloor.core.errors import Conflict, Problem
from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.floor.hole_conditions import NOTHING_SAID, HoleConditions
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import COMES_IN, FAILURE_MODE, Mode, MovementKind, TapEnd, TapState


def holes_made(holes: int, broke_at_hole: int | None) -> int:
    """Holes that the tap made in a run: up to the break where the hole is known, else all that were entered."""
    return holes if broke_at_hole is None else broke_at_hole


@dataclass(frozen=True)
class LoggedRun:
    """A run, as far as the tap's life is concerned.

    Attributes
    ----------
    at               end of the run
    position         orders runs that ended at the same moment
    cutting, hole    conditions of the cut and of the holes
    holes            of the run
    cutting_slips    None where they were not recorded
    tap_end          state of the tap at the end
    broke_at_hole    hole at which it broke, where known
    station          key of the station
    """

    at: datetime
    position: int
    cutting: CuttingConditions
    holes: int
    cutting_slips: int | None
    tap_end: TapEnd
    broke_at_hole: int | None = None
    station: int | None = None
    hole: HoleConditions = NOTHING_SAID

    @property
    def holes_made(self) -> int:
        """Holes that this tap made in the run."""
        return holes_made(self.holes, self.broke_at_hole)


@dataclass(frozen=True)
class GaugeReading:
    """A GO/NO-GO check of a thread that the tap cut."""

    at: datetime
    passed: bool


@dataclass(frozen=True)
class Movement:
    """A stock movement of one tap."""

    at: datetime
    kind: MovementKind
    station: int | None = None


Event = LoggedRun | GaugeReading | Movement


@dataclass(frozen=True)
class Observation:
    """A life as survival data: it ended in (lower, upper], followed from `entry` on.

    Attributes
    ----------
    entry    age at which the tap was first followed, in holes or length of thread
    lower    last age at which it was known to be good
    upper    age by which it had failed, equal to `lower` for an exact failure; None: right-censored at `lower`
    mode     of failure; None exactly where right-censored
    """

    entry: float
    lower: float
    upper: float | None
    mode: Mode | None


@dataclass(frozen=True)
class Stretch:
    """Consecutive holes of one life under the same conditions.

    Attributes
    ----------
    cutting, hole        conditions of the cut and of the holes
    start, end           holes on the tap before and after
    cutting_slips        in these holes
    slip_holes           holes of the runs that recorded cutting slips: the exposure of the slip rate
    breaks, runs         numbers of them
    first_at, last_at    end of the first and last run
    observation          what these holes contribute to the life data; None: nothing
    """

    cutting: CuttingConditions
    hole: HoleConditions
    start: int
    end: int
    cutting_slips: int
    slip_holes: int
    breaks: int
    runs: int
    first_at: datetime
    last_at: datetime
    observation: Observation | None = None

    @property
    def holes(self) -> int:
        """Holes made in this stretch."""
        return self.end - self.start


@dataclass(frozen=True)
class Life:
    """One life of a tap, from new or reground to its end or to now.

    Attributes
    ----------
    number               of the life: 0 from new, then one more for each regrind
    entry                holes on the tap when first seen; None where unknown: then `holes` counts only what was
                         logged, and there is no observation
    holes                on the tap
    cutting_slips, runs  logged in this life
    state                where the life stands
    station, placed_at   key of the station the tap is at, and since when; None: in the crib
    first_at, last_at    end of the first and last run
    observation          the life as survival data; None where it has none
    stretches            its holes by condition, in order
    """

    number: int
    entry: int | None
    holes: int
    cutting_slips: int
    runs: int
    state: TapState
    station: int | None
    placed_at: datetime | None
    first_at: datetime | None
    last_at: datetime | None
    observation: Observation | None
    stretches: tuple[Stretch, ...]

    @property
    def logged_holes(self) -> int:
        """Holes in the log itself."""
        return self.holes - (self.entry or 0)

    @property
    def is_over(self) -> bool:
        """Whether the tap can make no more holes in this life."""
        return self.state not in (TapState.UNUSED, TapState.IN_SERVICE)


class LifeConflict(Conflict):
    """An event that contradicts the tap's life; `event` is that event."""

    event: Event | None = None

    @classmethod
    def at(cls, event: Event, what: str, remedy: str) -> LifeConflict:
        """The conflict caused by an event.

        Parameters
        ----------
        event     the event that contradicts the life
        what      what is wrong
        remedy    what would be right
        """
        conflict = cls([Problem("tap", what, remedy)])
        conflict.event = event
        return conflict


_STATE_AT_END = {
    TapEnd.WORN: TapState.WORN,
    TapEnd.CHIPPED: TapState.CHIPPED,
    TapEnd.BROKEN: TapState.BROKEN,
    TapEnd.RETIRED_EARLY: TapState.RETIRED_EARLY,
}
_STATE_AT_MOVEMENT = {
    MovementKind.LOST: TapState.LOST,
    MovementKind.SCRAPPED: TapState.RETIRED_EARLY,
    MovementKind.SENT_TO_REGRIND: TapState.RETIRED_EARLY,
}


def lives_of_tap(holes_before: int | None, regrinds: int, events: Iterable[Event]) -> tuple[Life, ...]:
    """Every life of one tap, the current one last.

    Parameters
    ----------
    holes_before : int or None    holes on the tap when first seen; None where nobody knows
    regrinds : int                regrinds before it was first seen; numbers the first life
    events : iterable             runs, gauge readings and stock movements of the tap, in any order

    Raises
    ------
    LifeConflict    a run on a tap whose life is over, or a regrind of a broken tap
    """
    open_life = _OpenLife(regrinds, holes_before)
    lives: list[Life] = []
    for event in sorted(events, key=_order):
        if isinstance(event, Movement) and event.kind is MovementKind.REGROUND:
            if open_life.state is TapState.BROKEN:
                raise LifeConflict.at(event, "it is broken", "a broken tap cannot be reground; fit another tap")
            lives.append(open_life.close())
            open_life = _OpenLife(open_life.number + 1, 0)
        else:
            open_life.take(event)
    return (*lives, open_life.close())


class _Rank(IntEnum):
    RUN, GAUGE, MOVEMENT = range(3)


def _order(event: Event) -> tuple[datetime, _Rank, int]:
    if isinstance(event, LoggedRun):
        return event.at, _Rank.RUN, event.position
    return event.at, _Rank.GAUGE if isinstance(event, GaugeReading) else _Rank.MOVEMENT, 0


@dataclass
class _OpenLife:
    """A life while its events are being read."""

    number: int
    entry: int | None
    holes: int = field(init=False)
    state: TapState = TapState.UNUSED
    known_good: list[int] = field(default_factory=list)
    gauge_good: list[int] = field(default_factory=list)
    end: tuple[int, int, Mode] | None = None
    station: int | None = None
    placed_at: datetime | None = None
    runs: list[tuple[LoggedRun, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.holes = self.entry or 0

    @property
    def start(self) -> int:
        return self.entry or 0

    def take(self, event: Event) -> None:
        if isinstance(event, LoggedRun):
            self._take_run(event)
        elif isinstance(event, GaugeReading):
            self._take_gauge(event)
        else:
            self._take_movement(event)

    def _take_run(self, run: LoggedRun) -> None:
        if self.state not in (TapState.UNUSED, TapState.IN_SERVICE):
            state = self.state.label.lower()
            raise LifeConflict.at(
                run, phrase("the log says it was {state} before this run", state=state), "choose the tap that was used"
            )
        before = self.holes
        self.runs.append((run, before))
        self.holes += run.holes_made
        self.state = _STATE_AT_END.get(run.tap_end, TapState.IN_SERVICE)
        self.station, self.placed_at = (run.station, run.at) if self.state is TapState.IN_SERVICE else (None, None)
        mode = FAILURE_MODE.get(run.tap_end)
        if mode is None:
            self.known_good.append(self.holes)
        elif run.broke_at_hole is not None and mode is Mode.BREAK:
            self.end = (self.holes, self.holes, mode)
        else:
            self.end = (before, self.holes, mode)

    def _take_gauge(self, reading: GaugeReading) -> None:
        if reading.passed:
            self.gauge_good.append(self.holes)
        elif self.state in (TapState.IN_SERVICE, TapState.RETIRED_EARLY) and self.holes > self.start:
            # Only a gauge check shows that threads are still in tolerance: an operator's 'still good' is no bound.
            lower = max((holes for holes in self.gauge_good if holes < self.holes), default=self.start)
            self.state, self.end = TapState.WORN, (lower, self.holes, Mode.WEAR)
            self.station = self.placed_at = None

    def _take_movement(self, movement: Movement) -> None:
        alive = self.state in (TapState.UNUSED, TapState.IN_SERVICE)
        if movement.kind is MovementKind.ISSUED and alive:
            self.station, self.placed_at = movement.station, movement.at
        elif movement.kind in COMES_IN:
            self.station = self.placed_at = None
        elif movement.kind in _STATE_AT_MOVEMENT and alive:
            self.state, self.station, self.placed_at = _STATE_AT_MOVEMENT[movement.kind], None, None

    def close(self) -> Life:
        observation = self._observation()
        times = [run.at for run, _ in self.runs]
        return Life(
            number=self.number,
            entry=self.entry,
            holes=self.holes,
            cutting_slips=sum(run.cutting_slips or 0 for run, _ in self.runs),
            runs=len(self.runs),
            state=self.state,
            station=self.station,
            placed_at=self.placed_at,
            first_at=times[0] if times else None,
            last_at=times[-1] if times else None,
            observation=observation,
            stretches=_stretches(self.runs, observation),
        )

    def _observation(self) -> Observation | None:
        if self.entry is None or self.holes == self.entry:
            return None
        if self.end is None:
            return Observation(self.entry, self.holes, None, None)
        return Observation(self.entry, *self.end)


def _stretches(runs: Sequence[tuple[LoggedRun, int]], observation: Observation | None) -> tuple[Stretch, ...]:
    groups: list[list[tuple[LoggedRun, int]]] = []
    for run, before in runs:
        if groups and _are_alike(groups[-1][-1][0], run):
            groups[-1].append((run, before))
        else:
            groups.append([(run, before)])
    last = len(groups) - 1
    return tuple(_stretch(group, observation, is_last=i == last) for i, group in enumerate(groups))


def _are_alike(one: LoggedRun, other: LoggedRun) -> bool:
    return (one.cutting, one.hole) == (other.cutting, other.hole)


def _stretch(group: Sequence[tuple[LoggedRun, int]], observation: Observation | None, *, is_last: bool) -> Stretch:
    (first, start), (final, before_final) = group[0], group[-1]
    end = before_final + final.holes_made
    return Stretch(
        cutting=first.cutting,
        hole=first.hole,
        start=start,
        end=end,
        cutting_slips=sum(run.cutting_slips or 0 for run, _ in group),
        slip_holes=sum(run.holes_made for run, _ in group if run.cutting_slips is not None),
        breaks=sum(run.tap_end is TapEnd.BROKEN for run, _ in group),
        runs=len(group),
        first_at=first.at,
        last_at=final.at,
        observation=None if observation is None else _part_of(observation, start, end, is_last=is_last),
    )


def _part_of(whole: Observation, start: int, end: int, *, is_last: bool) -> Observation | None:
    """The part of a life's observation that one stretch contributes.

    A life under changing conditions is split at each change: censored where the tap leaves the old conditions,
    left-truncated where it enters the new ones (episode splitting; Therneau & Grambsch, Modeling Survival Data, 2000,
    section 3.7). Age counts all holes on the tap, whatever they were made in.
    """
    entry = max(start, whole.entry)
    if is_last and whole.mode is not None:
        # A failure known only to lie between two gauge checks may have begun in the stretch before: the bound then
        # reaches back, and so does the entry, which must not exceed it.
        return Observation(min(entry, whole.lower), whole.lower, whole.upper, whole.mode)
    survived = min(end, whole.lower) if whole.mode is not None else end
    return Observation(entry, survived, None, None) if survived > entry else None
