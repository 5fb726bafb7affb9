"""The electrode as a solid: a ground cone, the shank behind it, and the holder's nose.

It is a body of revolution about the approach, the tip at height 0. The cone and the shank together
are convex, the holder is a cylinder from the stick-out on without an end; the distance of a point
is the smaller of its distances to the two, each in closed form. Distances are exact outside; inside
they are negative and never deeper than the truth.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError, did_you_mean
from chainplan.frozen import frozen
from chainplan.model.kinds import Tip

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import FloatArray
    from chainplan.model.bench.groups import ElectrodeSettings


TIPS = tuple(Tip)
_SINGLE_MM = 0.002
"""More than single precision can be off, for points within a few dozen mm."""


@frozen
class Electrode:
    """Shape of the electrode; radii and lengths in mm, the half-angle in radians."""

    half_angle_rad: float
    shank_radius_mm: float
    stick_out_mm: float
    holder_radius_mm: float

    @property
    def cone_mm(self) -> float:
        """Length of the ground cone, in mm."""
        return self.shank_radius_mm / math.tan(self.half_angle_rad)

    def profile_mm(self, height_mm: FloatArray) -> FloatArray:
        """Radius of the solid at heights above the tip, in mm."""
        height = np.asarray(height_mm, dtype=float)
        cone = np.clip(height * math.tan(self.half_angle_rad), 0.0, self.shank_radius_mm)
        in_holder = height >= self.stick_out_mm
        radius: FloatArray = np.where(in_holder, np.maximum(cone, self.holder_radius_mm), cone)
        return radius

    def distance_mm(self, height_mm: FloatArray, across_mm: FloatArray) -> FloatArray:
        """Distance of points from the solid, negative inside, in mm.

        Parameters
        ----------
        height_mm, across_mm : array
            Height above the tip along the axis, and distance from the axis (not negative). [mm]

        Returns
        -------
        array
            In the shape of the arguments. [mm]

        Examples
        --------
        >>> import numpy as np
        >>> e = Electrode(half_angle_rad=0.2, shank_radius_mm=0.5, stick_out_mm=6.0,
        ...               holder_radius_mm=3.0)
        >>> [round(float(d), 6) for d in e.distance_mm(np.array([-2.0, 4.0]), np.array([0.0, 0.9]))]
        [2.0, 0.4]
        """
        sin, cos = math.sin(self.half_angle_rad), math.cos(self.half_angle_rad)
        # Rooms are used again: for a million points, new ones take longer than what is reckoned.
        room, other = np.empty_like(across_mm), np.empty_like(across_mm)
        beyond = across_mm - self.shank_radius_mm
        needle = across_mm * cos
        needle -= np.multiply(height_mm, sin, out=room)
        np.maximum(needle, beyond, out=needle)
        along = np.multiply(across_mm, sin, out=room)  # foot of the point on the cone's side
        along += np.multiply(height_mm, cos, out=other)
        above = np.subtract(height_mm, self.cone_mm, out=other)
        below = along < 0.0
        corner = along > self.cone_mm / cos
        corner &= above < 0.0
        square = np.multiply(height_mm, height_mm, out=room)
        square += across_mm * across_mm
        np.sqrt(square, out=needle, where=below)
        if corner.any():
            beyond *= beyond
            above *= above
            np.sqrt(np.add(beyond, above, out=beyond), out=needle, where=corner)
        beside = np.subtract(across_mm, self.holder_radius_mm, out=room)
        under = np.subtract(self.stick_out_mm, height_mm, out=other)
        holder = np.maximum(beside, under, out=beyond)
        edge = np.minimum(beside, under) > 0.0
        if edge.any():
            beside *= beside
            under *= under
            np.sqrt(np.add(beside, under, out=beside), out=holder, where=edge)
        return np.minimum(needle, holder, out=needle)

    def surely_hits(
        self,
        height_mm: npt.NDArray[np.float32],
        across_square_mm2: npt.NDArray[np.float32],
        within_mm: float,
    ) -> npt.NDArray[np.bool_]:
        """Whether points lie nearer to the solid than ``within_mm``: quick, at times lenient.

        A point named here is too near; one not named may be too near by a hair, or just below the
        tip. The solid swollen by ``within_mm`` is compared at each height, less what its corner is
        cut too sharp. Single precision is enough for that, ``_SINGLE_MM`` being taken off.

        Parameters
        ----------
        height_mm, across_square_mm2 : array of float32
            Height above the tip, and squared distance from the axis.
        within_mm : float
            How far the solid is swollen. [mm]
        """
        sin, cos = math.sin(self.half_angle_rad), math.cos(self.half_angle_rad)
        sharp = within_mm * (1.0 / math.cos(self.half_angle_rad / 2) - 1.0) + _SINGLE_MM
        radius = height_mm * np.float32(sin / cos)
        radius += np.float32(within_mm / cos - sharp)
        np.minimum(radius, np.float32(self.shank_radius_mm + within_mm - sharp), out=radius)
        radius[height_mm < -within_mm * sin] = 0.0
        holder = height_mm > self.stick_out_mm - within_mm + _SINGLE_MM
        np.maximum(radius, np.float32(self.holder_radius_mm), out=radius, where=holder)
        radius *= radius
        hits: npt.NDArray[np.bool_] = across_square_mm2 < radius
        return hits


def shape_electrode(settings: ElectrodeSettings, tip: str = Tip.SHARP) -> Electrode:
    """Shape the electrode from bench settings and the grind of its tip.

    Raises
    ------
    InputError
        If the tip is neither sharp nor blunt.
    """
    if tip not in TIPS:
        message = f"tip {tip!r}: {did_you_mean(tip, TIPS)}"
        raise InputError(message)
    angle = settings.tip_half_angle_deg if tip == Tip.SHARP else settings.blunt_tip_half_angle_deg
    return Electrode(
        half_angle_rad=math.radians(angle),
        shank_radius_mm=settings.shank_mm / 2,
        stick_out_mm=settings.stick_out_mm,
        holder_radius_mm=settings.holder_mm / 2,
    )
