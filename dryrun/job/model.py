"""What the person declares: the job, as frozen records in mm, mm/min, s and rad.

These are plain values. Reading them from TOML, with every fault named, is `job.reading`'s task.
`None` always means "not declared": a check that needs the value is then listed as not run.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

Vector = tuple[float, float, float]
Shape = Literal["flat", "ball", "bull", "vee", "taper-ball", "taper-flat", "drill", "form"]
SHAPES: tuple[Shape, ...] = (
    "flat", "ball", "bull", "vee", "taper-ball", "taper-flat", "drill", "form",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Stock:
    """The blank, a box on the bed.

    Attributes
    ----------
    size : (x, y, z) mm
        Z is the measured thickness.
    zero_at : (x, y, z) mm
        Where the work zero lies, measured from the front-left corner of the blank's top face
        (X right, Y away, Z up, so the bed is at -thickness).
    zero : str
        The same in words, e.g. "centre-top", for people.
    nominal_thickness, spoilboard, allow_into_spoilboard : mm or None
    material : str or None
    """

    size: Vector
    zero_at: Vector
    zero: str
    nominal_thickness: float | None = None
    material: str | None = None
    spoilboard: float | None = None
    allow_into_spoilboard: float = 0.0

    @property
    def low(self) -> Vector:
        """Front-left-bottom corner in the job frame, mm."""
        x, y, z = self.zero_at
        return (-x, -y, -self.size[2] - z)

    @property
    def high(self) -> Vector:
        """Back-right-top corner in the job frame, mm."""
        x, y, z = self.zero_at
        return (self.size[0] - x, self.size[1] - y, 0.0 - z)

    @property
    def top(self) -> float:
        """Height of the top face in the job frame, mm."""
        return self.high[2]

    @property
    def bed(self) -> float:
        """Height of the bed (the blank's underside) in the job frame, mm."""
        return self.low[2]


@dataclass(frozen=True, slots=True)
class Disc:
    """One disc of a holder: diameter and height, mm."""

    diameter: float
    height: float


@dataclass(frozen=True, slots=True)
class DustShoe:
    """A disc around the spindle: diameter, and how far it hangs below the collet nut, mm."""

    diameter: float
    drop: float


@dataclass(frozen=True, slots=True)
class Spindle:
    """Speed range (rpm), power (W) and the seconds it takes to come up to speed."""

    min: float | None = None
    max: float | None = None
    power: float | None = None
    start_seconds: float = 0.0


@dataclass(frozen=True, slots=True)
class Machine:
    """The router. Lists are X, Y, Z.

    Attributes
    ----------
    max_rate : mm/min per axis; acceleration : mm/s2 per axis; jerk : mm/s3 per axis or None
    corner_tolerance : mm the path may be left at a corner; 0 means a full stop at every corner
    rapids : "straight" (axes stay in proportion) or "independent" (each at its own rate)
    look_ahead : number of blocks the controller plans ahead, None no limit
    lines_per_second : blocks the controller can take in a second, None no limit
    path_acceleration : mm/s2 the acceleration vector may not exceed, in addition to the axes'
        limits; None each axis is limited alone
    line_seconds, probe_seconds, pause_seconds : s added to every line, every probing move and every
        programmed stop
    travel : per axis (low, high) in machine coordinates, mm
    work_zero : the job's zero in machine coordinates, mm
    park : where the machine stands before and after a program, machine coordinates, mm
    safe_height : mm above the highest of blank and clamps
    holder : discs from the collet nut upward
    accepts : names of the controller's capabilities (see gcode.controller)
    unit : "mm" or "in", what the controller assumes when a program does not say
    declared : names of the keys the person wrote; all else is a default
    """

    name: str = "machine"
    max_rate: Vector = (5000.0, 5000.0, 2000.0)
    acceleration: Vector = (400.0, 400.0, 200.0)
    jerk: Vector | None = None
    corner_tolerance: float = 0.02
    rapids: Literal["straight", "independent"] = "straight"
    look_ahead: int | None = None
    lines_per_second: float | None = None
    travel: tuple[tuple[float, float], tuple[float, float], tuple[float, float]] | None = None
    work_zero: Vector | None = None
    park: Vector | None = None
    spindle: Spindle = field(default_factory=Spindle)
    tool_change_seconds: float = 0.0
    path_acceleration: float | None = None
    line_seconds: float = 0.0
    probe_seconds: float = 0.0
    pause_seconds: float = 0.0
    safe_height: float = 2.0
    holder: tuple[Disc, ...] = ()
    dust_shoe: DustShoe | None = None
    accepts: tuple[str, ...] = ()
    unit: Literal["mm", "in"] | None = None
    declared: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Clamp:
    """A box to keep clear of: corners in the job frame (X, Y) and height above the blank's top."""

    name: str
    low: tuple[float, float]
    high: tuple[float, float]
    height: float


@dataclass(frozen=True, slots=True)
class Bit:
    """A cutter of revolution.

    Attributes
    ----------
    diameter : largest cutting diameter, mm
    angle : rad; included angle of a vee or drill, half angle from the axis of a taper
    tip : diameter of a vee's flat tip, mm
    corner_radius : of a bull nose, mm; tip_radius : of a taper-ball, mm
    tip_diameter : of a taper-flat, mm
    profile : form only; (r, z, bulge_radius) from the tip outward, bulge_radius of the piece that
        ends there: 0 straight, positive bulging outward (convex), negative hollow
    flute_length, shank (diameter), stickout : mm
    """

    name: str
    shape: Shape
    diameter: float
    angle: float | None = None
    tip: float = 0.0
    corner_radius: float | None = None
    tip_radius: float | None = None
    tip_diameter: float | None = None
    profile: tuple[tuple[float, float, float], ...] = ()
    flutes: int | None = None
    flute_length: float | None = None
    shank: float | None = None
    stickout: float | None = None
    centre_cutting: bool | None = None
    max_rpm: float | None = None
    helix: Literal["up", "down", "straight", "compression"] | None = None
    material: str | None = None

    @property
    def radius(self) -> float:
        """Largest cutting radius, mm."""
        return self.diameter / 2


@dataclass(frozen=True, slots=True)
class Allow:
    """A finding the person accepts: code, why, and where (stage 1-based or None for every one)."""

    code: str
    reason: str
    stage: int | None = None
    lines: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Source:
    """A file the declaration was read from, and the SHA-256 of the bytes that were read.

    Attributes
    ----------
    role : "job", "machine" or "bits"
    name : as the job file names it, or the file's own name where the command line names it
    sha256 : in hexadecimal
    """

    role: str
    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Stage:
    """One program with one bit.

    Attributes
    ----------
    program : path of the program, or None when `text` holds it
    depth : deepest intended cut below the blank's top, mm; inf for a wanted cut-out ("through")
    max_pass : deepest axial cut allowed, mm; max_plunge_rate : mm/min; max_ramp_angle : rad
    tab_width, tab_height : least tabs a cut-out must leave, along the cut and above the bed, mm
    zero_shift : how far this stage's zero lies from the job's, mm
    offsets : work offsets relative to the job's zero, e.g. {"G55": (100.0, 0.0, 0.0)}, mm
    """

    name: str
    program: Path | None
    bit: Bit | None = None
    text: bytes | None = None
    depth: float | None = None
    max_pass: float | None = None
    max_plunge_rate: float | None = None
    max_ramp_angle: float | None = None
    tab_width: float | None = None
    tab_height: float | None = None
    zero_shift: Vector = (0.0, 0.0, 0.0)
    offsets: tuple[tuple[str, Vector], ...] = ()

    @property
    def through(self) -> bool:
        """Whether a cut through the blank is wanted."""
        return self.depth is not None and math.isinf(self.depth)


@dataclass(frozen=True, slots=True)
class Job:
    """One blank and the programs run on it, in order."""

    title: str
    units: Literal["mm", "in"]
    stages: tuple[Stage, ...]
    stock: Stock | None = None
    machine: Machine | None = None
    clamps: tuple[Clamp, ...] | None = None
    bits: tuple[Bit, ...] = ()
    allow: tuple[Allow, ...] = ()
    path: Path | None = None
    sources: tuple[Source, ...] = field(default=(), compare=False)
