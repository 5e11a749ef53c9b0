"""What a controller remembers between lines, and the rows of motion it makes.

`ModalState` is plain and mutable: the interpreter changes it line by line, the compiled fast path
starts from it and hands it back at the first line that is not plain motion. Lengths in it are mm
in the job frame, whatever unit the program speaks.

How a number in a program becomes a place (NISTIR 6556 3.2.2, 3.5.11, 3.5.18)::

    machine = program + origin of the active system + axis offset (G92) + tool length offset (Z)
    job     = machine - job zero - length of the tool in the spindle (Z)

With everything known at one moment folded into one `shift` per axis, the two lines become the
only arithmetic a plain move needs, in exactly this order of operations::

    absolute (G90):     job = number * factor + shift
    incremental (G91):  job = position + number * factor

`factor` is 1.0 (mm) or 25.4 (inch). A coordinate that is not known is NaN, and stays NaN until
the program gives that axis in work coordinates again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

from dryrun.gcode.rows import ROW_WIDTH as ROW_WIDTH
from dryrun.gcode.rows import RowBuffer as RowBuffer

NAN: Final = math.nan
INCH: Final = 25.4

#: Codes are kept as ten times their number, so that G38.2 is an integer too.
G0, G1, G2, G3, G38_2, G80 = 0, 10, 20, 30, 382, 800

#: Corner tolerance of "exact path" (G61): on the path, but no stop where it runs on smoothly.
EXACT_PATH: Final = 1e-6


@dataclass(slots=True)
class ModalState:
    """The modal state, as plain numbers.

    Attributes
    ----------
    x, y, z : float
        Where the tip is, job frame, mm; NaN not known.
    shift_x, shift_y, shift_z : float
        job = number * factor + shift, in G90; mm. Kept in step with the offsets below by
        `set_shift`; the fast path only reads it.
    factor : float
        mm per program unit: 1.0 or 25.4.
    unit_said : bool
        Whether a units code has been read.
    plane : int
        17, 18 or 19.
    absolute : bool
        G90; False for G91.
    centre_absolute : bool
        G90.1: arc centre words are coordinates; False (the report's rule): offsets from the start.
    motion : int
        Ten times the motion code in force: 0, 10, 20, 30, 382, 800 (none), 810 ...
    feed_mode : int
        93 inverse time, 94 units per minute, 95 units per revolution.
    feed : float
        The F number as written, in the unit active when used; NaN never given.
    speed : float
        The S number, rpm; NaN never given.
    turning : int
        1 clockwise (M3), -1 counter-clockwise (M4), 0 stopped.
    tool, selected : int
        Number in the spindle and number waiting for M6; -1 not said.
    tolerance : float
        Corner tolerance for the rows, mm: 0 exact stop (G61.1), `EXACT_PATH` (G61), NaN not said
        (G64), P of G64.
    compensation : int
        40 off, 41 left, 42 right.
    compensation_radius : float
        mm; negative turns the side round (NISTIR 6556 B.4).
    return_level : int
        98 or 99.
    system : int
        Active coordinate system 1..9 (larger: extra systems).
    origin : [x, y, z]
        Origin of the active system relative to the job's zero, mm.
    axis_offset : [x, y, z]
        G92 offset, mm.
    local_offset : [x, y, z]
        G52 offset, mm.
    length_offset : float
        Tool length offset in force, mm.
    spindle_length : float
        Length taken off to get from the controlled point to the tip, mm.
    mist, flood : bool
    overrides : bool
        M48.
    length_words : str
        Words that put the length offset in force, such as "G43 H1"; "" none yet.
    """

    x: float = NAN
    y: float = NAN
    z: float = NAN
    shift_x: float = 0.0
    shift_y: float = 0.0
    shift_z: float = 0.0
    factor: float = 1.0
    unit_said: bool = False
    plane: int = 17
    absolute: bool = True
    centre_absolute: bool = False
    motion: int = G80
    feed_mode: int = 94
    feed: float = NAN
    speed: float = NAN
    turning: int = 0
    tool: int = -1
    selected: int = -1
    tolerance: float = NAN
    compensation: int = 40
    compensation_radius: float = 0.0
    return_level: int = 98
    system: int = 1
    origin: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    axis_offset: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    local_offset: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    length_offset: float = 0.0
    spindle_length: float = 0.0
    mist: bool = False
    flood: bool = False
    overrides: bool = True
    length_words: str = ""

    def set_shift(self) -> None:
        """Fold the offsets into `shift_x`, `shift_y`, `shift_z`."""
        origin, axis, local = self.origin, self.axis_offset, self.local_offset
        self.shift_x = origin[0] + axis[0] + local[0]
        self.shift_y = origin[1] + axis[1] + local[1]
        self.shift_z = origin[2] + axis[2] + local[2] + (self.length_offset - self.spindle_length)

    def program_position(self) -> tuple[float, float, float]:
        """Return the numbers the program would read here, in its active unit."""
        return (
            (self.x - self.shift_x) / self.factor,
            (self.y - self.shift_y) / self.factor,
            (self.z - self.shift_z) / self.factor,
        )

    @property
    def spindle(self) -> float:
        """Signed speed for the rows, rpm: NaN turning at a speed never said, 0 stopped."""
        return self.turning * self.speed if self.turning else 0.0

    @property
    def feed_rate(self) -> float:
        """Feed for the rows in G94, mm/min: the F number times the unit at the moment of use."""
        return self.feed * self.factor
