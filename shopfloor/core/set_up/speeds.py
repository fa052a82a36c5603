"""Which surface speed to start at, and which speeds the shop's own log has proven.

A band is proven by the failures or holes of such taps (thread and style) in the material, unless it is shown to be
worse than the best band; proven speeds take precedence over the published range.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shopfloor.core.floor.cutting import M_MIN, RPM, SpeedBand, m_min_from_ft_min, rpm_for
from shopfloor.core.phrases import counted, figure, phrase, rounded
from shopfloor.core.set_up.materials import WorkMaterial
from shopfloor.core.vocabulary import Substrate

if TYPE_CHECKING:
    from shopfloor.core.survival.poisson_rate import Rate

SUBSTRATE_FACTOR = {Substrate.HSS: 1.0, Substrate.HSS_COBALT: 1.15, Substrate.POWDER: 1.3, Substrate.CARBIDE: 2.5}
COATED_FACTOR = 1.3
"""How much faster than uncoated high-speed steel a tap may start; common practice, no source."""

FEWEST_FAILURES = 5
FEWEST_HOLES = 1000
"""A band counts as evidence from this many failures, or from this many holes where taps hardly fail: a choice, no
source."""


@dataclass(frozen=True)
class StartRange:
    """Surface speeds in m/min to start with, never a limit. `source` says where they come from."""

    low_m_min: float
    high_m_min: float
    source: str


@dataclass(frozen=True)
class BandEvidence:
    """What the log holds on one speed band: failures of any kind, and breaks among them, per 1,000 holes."""

    band: SpeedBand
    failures: Rate
    breaks: Rate

    @property
    def is_enough(self) -> bool:
        """Whether the band alone shows how often taps fail in it."""
        return self.failures.events >= FEWEST_FAILURES or self.failures.holes >= FEWEST_HOLES


@dataclass(frozen=True)
class ProvenSpeed:
    """The shop's own bands that are not worse than its best one, with the evidence on every band."""

    bands: tuple[SpeedBand, ...]
    reason: str
    evidence: tuple[BandEvidence, ...]

    @property
    def low(self) -> float:
        """Low end of the slowest proven band, in `unit`."""
        return min(band.low for band in self.bands)

    @property
    def high(self) -> float:
        """High end of the fastest proven band, in `unit`."""
        return max(band.high for band in self.bands)

    @property
    def unit(self) -> str:
        """m/min, or rpm where the tap's diameter was not known."""
        return self.bands[0].unit

    def holds(self, speed: float) -> bool:
        """Whether a speed in `unit` lies in a proven band."""
        return any(band.low <= speed < band.high for band in self.bands)


@dataclass(frozen=True)
class NotProven:
    """Why the log does not yet prove a speed, and what would be enough."""

    reason: str
    evidence: tuple[BandEvidence, ...]


@dataclass(frozen=True)
class AdvisedSpeed:
    """Speeds to choose from.

    Attributes
    ----------
    low, high    their ends, in `unit`
    unit         m/min, or rpm where the tap's diameter was not known
    is_proven    whether the shop's own log has proven them; else they are the published start range
    why          the evidence or the source
    """

    low: float
    high: float
    unit: str
    is_proven: bool
    why: str

    def rpm(self, diameter_mm: float) -> tuple[float, float]:
        """The ends as spindle speeds for a tap of this diameter, in 1/min."""
        if self.unit == RPM:
            return self.low, self.high
        return rpm_for(diameter_mm, self.low), rpm_for(diameter_mm, self.high)


def advised_speed(proven: ProvenSpeed | NotProven | None, start: StartRange) -> AdvisedSpeed:
    """The speeds to choose from: what the shop's own log has proven takes precedence over any published range."""
    if isinstance(proven, ProvenSpeed):
        return AdvisedSpeed(proven.low, proven.high, proven.unit, True, proven.reason)
    return AdvisedSpeed(start.low_m_min, start.high_m_min, M_MIN, False, start.source)


def start_range(material: WorkMaterial, substrate: Substrate = Substrate.HSS, is_coated: bool = False) -> StartRange:
    """Surface speeds to start with in a material.

    Parameters
    ----------
    material : WorkMaterial
    substrate : Substrate      what the tap is made of
    is_coated : bool

    Returns
    -------
    StartRange    the published range for high-speed steel, raised for better substrates and a coating

    References
    ----------
    As named in the result; factors for substrate and coating are common practice, no source.
    """
    factor = SUBSTRATE_FACTOR[substrate] * (COATED_FACTOR if is_coated else 1.0)
    low, high = (factor * m_min_from_ft_min(speed) for speed in material.hss_ft_min)
    source = (
        material.speed_source if factor == 1 else _raised(material.speed_source, factor, _tap(substrate, is_coated))
    )
    return StartRange(low, high, source)


def _raised(source: str, factor: float, tap: str) -> str:
    return phrase(
        "{source}; times {factor} for {tap}: common practice, no source",
        source=source,
        factor=rounded(factor, 3),
        tap=tap,
    )


def proven_speed(evidence: Sequence[BandEvidence]) -> ProvenSpeed | NotProven:
    """Which speed bands the shop's own log has proven; they take precedence over any start range.

    Parameters
    ----------
    evidence : sequence    one for each band, of one unit, for the same material and tap

    Notes
    -----
    Among the bands with enough evidence, the best is the one whose failure rate has the lowest upper limit. It is
    proven, and with it every band that is not demonstrably worse: the lower limits of its failures and of its breaks
    lie below the upper limits of the best. Bands without enough evidence are left out, even between proven ones.
    """
    evidence = sorted(evidence, key=lambda seen: seen.band)
    enough = [seen for seen in evidence if seen.is_enough]
    if not enough:
        return NotProven(_not_enough(evidence), tuple(evidence))
    best = min(enough, key=lambda seen: seen.failures.upper)
    proven = [seen for seen in enough if not _is_worse(seen, best)]
    return ProvenSpeed(tuple(seen.band for seen in proven), _proven(proven, best, len(enough)), tuple(evidence))


def _is_worse(seen: BandEvidence, best: BandEvidence) -> bool:
    return seen.failures.lower > best.failures.upper or seen.breaks.lower > best.breaks.upper


def _proven(proven: Sequence[BandEvidence], best: BandEvidence, compared: int) -> str:
    holes, failures = sum(seen.failures.holes for seen in proven), sum(seen.failures.events for seen in proven)
    what = phrase(
        "{failures} in {holes} holes of this shop", failures=counted(failures, "failure"), holes=figure(f"{holes:,.0f}")
    )
    if compared == 1:
        return phrase("{what}; no other band has enough evidence to compare", what=what)
    limits = phrase(
        "{low} to {high} failures per 1,000 holes",
        low=rounded(best.failures.lower, 2),
        high=rounded(best.failures.upper, 2),
    )
    return phrase(
        "{what}; best of {compared} bands {band} ({limits}), the others here are not shown to be worse",
        what=what,
        compared=compared,
        band=best.band.label,
        limits=limits,
    )


def _not_enough(evidence: Sequence[BandEvidence]) -> str:
    wanted = phrase(
        "a speed band counts from {failures} failures or {holes} holes", failures=FEWEST_FAILURES, holes=FEWEST_HOLES
    )
    if not evidence:
        return phrase("nothing logged yet; {wanted}", wanted=wanted)
    most = max(evidence, key=lambda seen: (seen.failures.events, seen.failures.holes))
    return phrase(
        "{failures} in {holes} holes at {band}; {wanted}",
        failures=counted(most.failures.events, "failure"),
        holes=figure(f"{most.failures.holes:,.0f}"),
        band=most.band.label,
        wanted=wanted,
    )


def _tap(substrate: Substrate, is_coated: bool) -> str:
    return phrase("{substrate}, coated", substrate=substrate.label) if is_coated else substrate.label
