"""What a logged run must hold: read in one place, so that every entry point gives the same answers to bad input."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Any

from shopfloor.core.input.reader import Reader
from shopfloor.core.phrases import counted, phrase
from shopfloor.core.vocabulary import Cause, Confirmed, DepthControl, Lubricant, PartFate, TapEnd

LONGEST_CODE = 64
LONGEST_NAME = 120
LONGEST_NOTE = 2000
FASTEST_RPM = 20_000
MOST_SLIPS_A_HOLE = 10

_CODES = ("tap", "person", "station", "job", "material")


@dataclass(frozen=True)
class RunEntry:
    """One run as logged; people and things by their codes. `material` None: that of the job."""

    id: uuid.UUID
    ended_at: datetime
    tap: str
    rpm: int
    holes: int
    tap_end: TapEnd
    device_time: str | None = None
    person: str | None = None
    station: str | None = None
    job: str | None = None
    material: str | None = None
    cutting_slips: int | None = None
    slip_holes: tuple[int, ...] = ()
    """The hole of each cutting slip, counted within the run, where the holes were counted live."""
    depth_control: DepthControl | None = None
    lubricant: Lubricant | None = None
    broke_at_hole: int | None = None
    part_fate: PartFate | None = None
    cause: Cause | None = None
    note: str | None = None
    batch_id: uuid.UUID | None = None
    confirmed: tuple[Confirmed, ...] = ()
    """Numbers that were queried when typed, and confirmed: none of them is offered again."""
    is_clocked_here: bool = False
    """Whether `ended_at` is the time of receipt, so that sending the same run again gives another one."""


@dataclass(frozen=True)
class EntryLimits:
    """What an entry point accepts.

    Attributes
    ----------
    now                 the present
    zone                the shop's time zone
    largest_batch       most holes of one run
    required            fields that must be given
    device_sets_time    whether `when` is read; else the server's clock counts, the device's time stored beside it
    """

    now: datetime
    zone: tzinfo
    largest_batch: int
    required: frozenset[str]
    device_sets_time: bool = True


AT_THE_STATION = frozenset({"id", "person", "station", "job", "tap", "rpm", "holes", "tap_end", "part_fate"})
FROM_A_TABLET = AT_THE_STATION | {"when"}
FROM_A_FILE = frozenset({"id", "when", "tap", "material", "rpm", "holes", "tap_end"})
"""Fields each entry point requires; `part_fate` only where the tap broke."""


def read_run(raw: Mapping[str, object], limits: EntryLimits, *, row: int | None = None) -> RunEntry:
    """The run that `raw` describes.

    Parameters
    ----------
    raw : mapping          keys as the fields of RunEntry, but `when` for the time; values as typed
    limits : EntryLimits   what the entry point accepts
    row : int, optional    row of the file, for messages

    Raises
    ------
    InputError    every problem found, each naming its field
    """
    reader = Reader(raw, row=row)
    needs = limits.required.__contains__
    values: dict[str, Any] = {
        "id": reader.identity("id", required=True),
        **{field: reader.text(field, longest=LONGEST_CODE, required=needs(field)) for field in _CODES},
        "rpm": reader.whole("rpm", 1, FASTEST_RPM, required=True),
        "holes": reader.whole("holes", 1, limits.largest_batch, required=True),
        "tap_end": reader.word("tap_end", TapEnd, required=True),
        "device_time": reader.text("device_time", longest=LONGEST_CODE),
        "cutting_slips": reader.whole("cutting_slips", 0, MOST_SLIPS_A_HOLE * limits.largest_batch),
        "slip_holes": reader.wholes("slip_holes", 1, limits.largest_batch),
        "depth_control": reader.word("depth_control", DepthControl),
        "lubricant": reader.word("lubricant", Lubricant),
        "note": reader.text("note", longest=LONGEST_NOTE),
        "batch_id": reader.identity("batch_id"),
        "confirmed": reader.words("confirmed", Confirmed),
    }
    values["cutting_slips"] = _slips(reader, values)
    when = reader.moment("when", limits.zone, limits.now, required=needs("when")) if limits.device_sets_time else None
    values |= {
        "ended_at": when or limits.now,
        "is_clocked_here": when is None,
        **_incident(reader, values["holes"], values["tap_end"], limits),
    }
    reader.finish()
    return RunEntry(**values)


def _slips(reader: Reader, values: Mapping[str, Any]) -> int | None:
    """The number of cutting slips; if not given, that of the holes listed."""
    number, at, holes = values["cutting_slips"], values["slip_holes"], values["holes"]
    if at and holes is not None and max(at) > holes:
        reader.problem(
            "slip_holes",
            phrase("{at} lies beyond the batch of {holes}", at=max(at), holes=holes),
            phrase("give holes from 1 to {holes}", holes=holes),
        )
    if at and number is not None and number != len(at):
        reader.problem(
            "slip_holes",
            phrase("{holes} given for {slips}", holes=counted(len(at), "hole"), slips=counted(number, "slip")),
            "give one hole for each slip",
        )
    return len(at) if at and number is None else number


def _incident(reader: Reader, holes: int | None, tap_end: TapEnd | None, limits: EntryLimits) -> dict[str, Any]:
    is_broken = tap_end is TapEnd.BROKEN
    at_hole = reader.whole("broke_at_hole", 1, limits.largest_batch)
    if at_hole is not None and tap_end is not None and not is_broken:
        reader.problem(
            "broke_at_hole",
            phrase("hole {at_hole} is given but the tap did not break", at_hole=at_hole),
            "leave it empty",
        )
    if at_hole is not None and holes is not None and at_hole > holes:
        reader.problem(
            "broke_at_hole",
            phrase("{at_hole} lies beyond the batch of {holes}", at_hole=at_hole, holes=holes),
            phrase("give a hole from 1 to {holes}, or none", holes=holes),
        )
    fate_required = is_broken and "part_fate" in limits.required
    return {
        "broke_at_hole": at_hole,
        "part_fate": reader.word("part_fate", PartFate, required=fate_required),
        "cause": reader.word("cause", Cause),
    }
