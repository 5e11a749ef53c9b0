"""Lower outline of a cutter as plain functions of radius, so that it can be varied.

The removal room has compiled outlines for sweeping millions of cells. Here a few hundred values
are wanted for cutters a little thicker or sharper than declared, without starting the compiler.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_ARC_STEPS = 64


@dataclass(frozen=True, slots=True)
class Cutter:
    """A cutter's lower outline.

    Attributes
    ----------
    name : str
    shape : str
        As in `job.model.Bit`.
    radius : float
        Largest cutting radius, mm.
    half : float
        Angle between axis and cone, rad (0 where there is no cone).
    tip : float
        Radius of the flat or ball at the tip, or of a bull's corner, mm.
    outline : tuple of two tuples
        Radii and heights of a form cutter.
    """

    name: str
    shape: str
    radius: float
    half: float = 0.0
    tip: float = 0.0
    outline: tuple[tuple[float, ...], tuple[float, ...]] = ((), ())

    @classmethod
    def from_bit(cls, bit: Any) -> Cutter:
        """Take what matters of a declared bit (`job.model.Bit` or anything shaped like it)."""
        shape = str(bit.shape)
        radius = float(bit.diameter) / 2
        angle = float(bit.angle or 0.0)
        name = str(getattr(bit, "name", shape))
        if shape in ("vee", "drill"):
            tip = float(getattr(bit, "tip", 0.0) or 0.0) / 2
            return cls(name, shape, radius, angle / 2, tip)
        if shape == "taper-ball":
            return cls(name, shape, radius, angle, float(bit.tip_radius))
        if shape == "taper-flat":
            return cls(name, shape, radius, angle, float(bit.tip_diameter) / 2)
        if shape == "bull":
            return cls(name, shape, radius, 0.0, float(bit.corner_radius))
        if shape == "form":
            return cls(name, shape, radius, outline=_outline(bit.profile))
        return cls(name, shape, radius)

    @property
    def conical(self) -> bool:
        """Whether a cone angle shapes the cut."""
        return self.half > 0

    def varied(self, diameter: float = 0.0, angle: float = 0.0) -> Cutter:
        """Return the cutter with a larger diameter (mm) or cone angle as declared (rad)."""
        if not diameter and not angle:
            return self
        half = self.half
        if angle and self.conical:
            half += angle / 2 if self.shape in ("vee", "drill") else angle
            half = min(max(half, 1e-3), math.pi / 2 - 1e-3)
        return replace(self, radius=max(self.radius + diameter / 2, 1e-3), half=half)

    def height(self, r: Array) -> Array:
        """Height of the outline above the tip at radius r, mm; infinite beyond the cutter."""
        inside = np.minimum(np.abs(r), self.radius)
        return np.where(np.abs(r) <= self.radius, self._height(inside), np.inf)

    def _height(self, r: Array) -> Array:
        if self.shape == "ball":
            return self.radius - np.sqrt(np.maximum(self.radius**2 - r * r, 0.0))
        if self.shape == "bull":
            over = np.maximum(r - self.radius + self.tip, 0.0)
            return self.tip - np.sqrt(np.maximum(self.tip**2 - over * over, 0.0))
        if self.shape in ("vee", "drill", "taper-flat"):
            return np.maximum(r - self.tip, 0.0) / math.tan(self.half)
        if self.shape == "taper-ball":
            joint = self.tip * math.cos(self.half)
            ball = self.tip - np.sqrt(np.maximum(self.tip**2 - r * r, 0.0))
            cone = self.tip * (1 - math.sin(self.half)) + (r - joint) / math.tan(self.half)
            return np.where(r < joint, ball, cone)
        if self.shape == "form":
            return np.interp(r, *self.outline)
        return np.zeros_like(r)

    def reach(self, h: Array) -> Array:
        """Radius of the outline at height h above the tip, mm; -inf below the tip."""
        return np.where(h < 0, -np.inf, np.minimum(self._reach(np.maximum(h, 0.0)), self.radius))

    def _reach(self, h: Array) -> Array:
        if self.shape == "ball":
            low = np.minimum(h, self.radius)
            return np.sqrt(low * (2 * self.radius - low))
        if self.shape == "bull":
            low = np.minimum(h, self.tip)
            return self.radius - self.tip + np.sqrt(low * (2 * self.tip - low))
        if self.shape in ("vee", "drill", "taper-flat"):
            return self.tip + h * math.tan(self.half)
        if self.shape == "taper-ball":
            knee = self.tip * (1 - math.sin(self.half))
            low = np.minimum(h, knee)
            ball = np.sqrt(low * (2 * self.tip - low))
            cone = self.tip * math.cos(self.half) + (h - knee) * math.tan(self.half)
            return np.where(h < knee, ball, cone)
        if self.shape == "form":
            radii, heights = self.outline
            return np.interp(h, np.maximum.accumulate(heights), radii)
        return np.full_like(h, self.radius)


def _outline(
    profile: tuple[tuple[float, float, float], ...],
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Turn a form cutter's points and bulges into a chain of short straight pieces."""
    radii, heights = [profile[0][0]], [profile[0][1]]
    if radii[0] > 0:  # a flat tip that the points leave out
        radii, heights = [0.0, *radii], [heights[0], *heights]
    for (r0, z0, _), (r1, z1, bulge) in itertools.pairwise(profile):
        chord = math.hypot(r1 - r0, z1 - z0)
        if bulge == 0 or chord == 0 or abs(bulge) < chord / 2:
            radii.append(r1)
            heights.append(z1)
            continue
        out_r, out_z = (z1 - z0) / chord, -(r1 - r0) / chord  # square to the piece, outward
        middle = math.sqrt(bulge * bulge - chord * chord / 4)
        for k in range(1, _ARC_STEPS + 1):
            along = chord * (k / _ARC_STEPS - 0.5)
            out = math.copysign(math.sqrt(bulge * bulge - along * along) - middle, bulge)
            share = k / _ARC_STEPS
            radii.append(r0 + share * (r1 - r0) + out * out_r)
            heights.append(z0 + share * (z1 - z0) + out * out_z)
    return tuple(radii), tuple(heights)
