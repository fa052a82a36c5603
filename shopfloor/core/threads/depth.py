"""Depth: turns and time for a tapped hole, the drilled depth that a blind hole needs, and whether it is too shallow."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase, rounded
from shopfloor.core.threads.series import Floats, positive
from shopfloor.core.vocabulary import Chamfer

CHAMFER_THREADS = {Chamfer.TAPER: (7, 10), Chamfer.PLUG: (3, 5), Chamfer.BOTTOMING: (1, 2)}
"""Fewest and most chamfered threads of each form: US Army TM 9-254, as read on a public page."""

USUAL_POINT_DEGREES = 118.0
CLEARANCE_PITCHES = 1.0
"""Kept free below the tap so that it does not bottom. Common practice, no source."""


@dataclass(frozen=True)
class HoleNeed:
    """What a blind hole needs, in mm; the chamfer counts with its most threads.

    Attributes
    ----------
    full_thread_mm    wanted depth of full thread
    chamfer_mm        length of the tap's chamfer
    clearance_mm      kept free below the tap
    point_mm          length of the drill's point
    """

    full_thread_mm: float
    chamfer_mm: float
    clearance_mm: float
    point_mm: float

    @property
    def drill_depth_mm(self) -> float:
        """Depth to which the hole must have its full diameter."""
        return self.full_thread_mm + self.chamfer_mm + self.clearance_mm

    @property
    def tip_depth_mm(self) -> float:
        """Depth of the tip of the drill's point: what the part must have room for."""
        return self.drill_depth_mm + self.point_mm


@dataclass(frozen=True)
class DepthCheck:
    """A hole compared with what it needs, in mm."""

    need: HoleNeed
    hole_depth_mm: float

    @property
    def missing_mm(self) -> float:
        """How much deeper the hole must be; 0 where it is deep enough."""
        return max(self.need.drill_depth_mm - self.hole_depth_mm, 0.0)

    @property
    def is_too_shallow(self) -> bool:
        """Whether the tap would bottom before the full thread is cut; less than a micrometre does not count."""
        return self.missing_mm > 1e-3

    @property
    def possible_full_thread_mm(self) -> float:
        """The full thread that this hole allows with this tap."""
        return max(self.hole_depth_mm - self.need.chamfer_mm - self.need.clearance_mm, 0.0)


def revolutions(depth_mm: ArrayLike, pitch_mm: ArrayLike) -> Floats:
    """Turns of the tap for a depth, one way.

    Parameters
    ----------
    depth_mm, pitch_mm : array_like, mm

    References
    ----------
    Kinematics of a tap: one pitch a turn
    """
    return np.asarray(positive("depth", depth_mm) / positive("pitch", pitch_mm))


def tapping_seconds(
    depth_mm: ArrayLike, pitch_mm: ArrayLike, rpm: ArrayLike, reversal_ratio: ArrayLike = 1.0
) -> Floats:
    """Time that the tap turns in one hole, in and out, in seconds, without positioning.

    Parameters
    ----------
    depth_mm, pitch_mm : array_like, mm
    rpm : array_like, 1/min               speed in
    reversal_ratio : array_like           speed out over speed in

    References
    ----------
    Kinematics of a tap: one pitch a turn

    Examples
    --------
    >>> float(tapping_seconds(20, 1.25, 480).round(3))
    4.0
    """
    inwards = 60 * revolutions(depth_mm, pitch_mm) / positive("rpm", rpm, "1/min")
    return np.asarray(inwards * (1 + 1 / positive("reversal ratio", reversal_ratio, "speed out over speed in")))


def drill_point_mm(drill_mm: ArrayLike, point_degrees: float = USUAL_POINT_DEGREES) -> Floats:
    """Length of a drill's point: 0.3 of its diameter at 118 degrees.

    Parameters
    ----------
    drill_mm : array_like, mm
    point_degrees : float          whole angle of the point, above 0 and below 180

    References
    ----------
    Geometry of a cone: D / (2 tan(angle / 2))
    """
    if not 0 < point_degrees < 180:
        what = phrase("{point_degrees} is not possible", point_degrees=rounded(point_degrees))
        raise InputError.of("point angle", what, "write degrees between 0 and 180, such as 118")
    return np.asarray(positive("drill", drill_mm) / (2 * math.tan(math.radians(point_degrees / 2))))


def hole_need(
    full_thread_mm: float,
    pitch_mm: float,
    chamfer: Chamfer,
    drill_mm: float,
    point_degrees: float = USUAL_POINT_DEGREES,
) -> HoleNeed:
    """What a blind hole needs for a wanted depth of full thread.

    Parameters
    ----------
    full_thread_mm, pitch_mm, drill_mm : float, mm
    chamfer : Chamfer                   of the tap
    point_degrees : float               of the drill

    Notes
    -----
    Full thread, the chamfer's most threads, and one pitch kept free.

    References
    ----------
    Threads of a chamfer: US Army TM 9-254. The pitch kept free: common practice, no source.
    """
    pitch = float(positive("pitch", pitch_mm))
    return HoleNeed(
        full_thread_mm=float(positive("full thread", full_thread_mm)),
        chamfer_mm=CHAMFER_THREADS[chamfer][1] * pitch,
        clearance_mm=CLEARANCE_PITCHES * pitch,
        point_mm=float(drill_point_mm(drill_mm, point_degrees)),
    )


def check_depth(need: HoleNeed, hole_depth_mm: float) -> DepthCheck:
    """Compare a hole's depth of full diameter with its need: whether it is too shallow, and by how much."""
    return DepthCheck(need, float(positive("hole depth", hole_depth_mm)))
