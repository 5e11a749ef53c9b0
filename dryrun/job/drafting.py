"""Drafting a job file from programs: what they give away is written down, the rest is asked for.

A draft never pretends. What was read off the program stands as a key with a comment saying where it
came from; what is only a guess is commented out, so that the check it would feed stays "not run"
until a person has measured and decided.
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.job.model import Vector
from dryrun.units import Units, format_angle, format_length

if TYPE_CHECKING:
    from dryrun.gcode.header import BitHint, Header
    from dryrun.gcode.program import Program
    from dryrun.motion import Motion

#: Where in the extents the zero lies, and what that is called; between them nobody can say.
_LOW_END: Final = 0.15
_MIDDLE: Final = (0.4, 0.6)
_HIGH_END: Final = 0.85
_LOOKED_AT: Final = 1_000_000  # bytes in which a units code is looked for
_AROUND: Final = 10.0  # mm left around the cuts for a guessed blank


@dataclass(frozen=True, slots=True)
class Sketch:
    """What one program gives away.

    Attributes
    ----------
    file : path
    lines : number of lines
    units : what its units code says, None when it has none
    low, high : corners of the cutting path, mm; None when nothing is cut
    header : hints in its comments
    """

    file: Path
    lines: int
    units: Units | None
    low: Vector | None
    high: Vector | None
    header: Header

    @property
    def bit(self) -> BitHint | None:
        """The bit its comments speak of, when it is one."""
        return self.header.bits[0] if len(self.header.bits) == 1 else None


def draft_job(
    programs: Sequence[str | os.PathLike[str]],
    folder: str | os.PathLike[str] | None = None,
    title: str | None = None,
) -> str:
    """Draft a commented job file for programs run on one blank.

    Parameters
    ----------
    programs : paths
        At least one.
    folder : path, optional
        Where the job file will stand; default the folder of the first program.
    title : str, optional
        Default what the program calls itself, or its file name.

    Returns
    -------
    str
        TOML that `read_job` reads.

    Raises
    ------
    ValueError
        If no program is given.
    OSError
        If one cannot be read.
    """
    from dryrun.gcode.program import read_program

    if not programs:
        raise ValueError("a job needs at least one program")
    files = [Path(program) for program in programs]
    home = Path(folder) if folder is not None else files[0].parent
    texts = [file.read_bytes()[:_LOOKED_AT].decode("latin-1") for file in files]
    units = next((said for said in map(said_units, texts) if said), None) or "mm"
    sketches = [
        sketch(file, said_units(text), read_program(file, unit=units))
        for file, text in zip(files, texts, strict=True)
    ]
    ordered = in_order(sketches)
    name = title or ordered[0].header.name or (home.resolve().name if len(files) > 1 else "")
    parts = [
        *_preamble(ordered, units),
        f"title = {quote(name or files[0].stem)}",
        *_units_lines(ordered, units),
        "",
        *_stock_lines(ordered, units),
        *_machine_lines(),
        *_clamp_lines(units),
        *_bit_lines(ordered, units),
        *(
            line
            for number, s in enumerate(ordered)
            for line in _stage_lines(number, s, home, units)
        ),
    ]
    return "\n".join(parts).rstrip("\n") + "\n"


def sketch(file: Path, units: Units | None, program: Program) -> Sketch:
    """Return what a program gives away."""
    low, high = cutting_bounds(program.motion)
    with file.open("rb") as stream:
        lines = sum(1 for _ in stream)
    return Sketch(file, lines, units, low, high, program.header)


def said_units(text: str) -> Units | None:
    """Return the unit of the first units code outside comments: G20 inches, G21 mm.

    NISTIR 6556, 3.5.7.
    """
    bare = re.sub(r"\([^)\n]*\)?|;[^\n]*|[ \t]", "", text)
    found = re.search(r"G0*(20|21)(?![0-9.])", bare, re.IGNORECASE)
    if found is None:
        return None
    return "in" if found.group(1) == "20" else "mm"


def cutting_bounds(motion: Motion) -> tuple[Vector | None, Vector | None]:
    """Return the corners of the box around all moves at a feed, mm; None where there are none."""
    rows = motion.cutting & np.isfinite(motion.end).all(axis=1)
    if not rows.any():
        return None, None
    points = [motion.end[rows], motion.start[rows & np.isfinite(motion.start).all(axis=1)]]
    level = rows & (motion.kind == 2) & (motion.axis == 2)
    points.append(_outermost(motion, np.flatnonzero(level)))
    all_points = np.concatenate(points)
    low, high = all_points.min(axis=0), all_points.max(axis=0)
    return (
        (float(low[0]), float(low[1]), float(low[2])),
        (float(high[0]), float(high[1]), float(high[2])),
    )


def _outermost(motion: Motion, rows: NDArray[np.intp]) -> NDArray[np.float64]:
    """Points where arcs in the XY plane run parallel to X or Y, (n, 3)."""
    centre, height = motion.centre[rows], motion.end[rows, 2]
    spoke = motion.start[rows] - centre
    radius = np.hypot(spoke[:, 0], spoke[:, 1])
    first = np.arctan2(spoke[:, 1], spoke[:, 0])
    last = first + motion.sweep[rows]
    begin, stop = np.minimum(first, last), np.maximum(first, last)
    found = [np.empty((0, 3))]
    for quarter in range(4):
        angle = quarter * math.pi / 2
        on = np.floor((stop - angle) / math.tau) >= np.ceil((begin - angle) / math.tau)
        x = centre[on, 0] + radius[on] * math.cos(angle)
        y = centre[on, 1] + radius[on] * math.sin(angle)
        found.append(np.column_stack([x, y, height[on]]))
    return np.concatenate(found)


def in_order(sketches: Sequence[Sketch]) -> list[Sketch]:
    """Put programs in the usual order, larger bits first; as given when one is not known."""
    ranks = [_rank(item.bit) for item in sketches]
    if any(rank is None for rank in ranks):
        return list(sketches)
    return sorted(sketches, key=lambda item: _rank(item.bit) or (False, 0.0))


def _rank(bit: BitHint | None) -> tuple[bool, float] | None:
    # A vee bit is wide at its top only: it follows the bits that clear.
    if bit is not None and bit.shape in ("vee", "taper-ball", "taper-flat"):
        return True, -(bit.diameter or 0.0)
    if bit is None or bit.diameter is None:
        return None
    return False, -bit.diameter


def guess_zero(sketches: Iterable[Sketch]) -> str | None:
    """Guess the work zero from where the cuts lie around it; None when they do not tell."""
    boxes = [(s.low, s.high) for s in sketches if s.low is not None and s.high is not None]
    if not boxes:
        return None
    low = np.min([box[0] for box in boxes], axis=0)
    high = np.max([box[1] for box in boxes], axis=0)
    across = _side(low[0], high[0], "left", "right")
    away = _side(low[1], high[1], "front", "back")
    up = "top" if low[2] < -1e-6 else "bed"
    if across is None or away is None:
        return None
    return f"centre-{up}" if across == away == "centre" else f"{away}-{across}-{up}"


def _side(low: float, high: float, first: str, last: str) -> str | None:
    share = -low / max(high - low, 1e-9)
    if share < _LOW_END:
        return first
    if _MIDDLE[0] <= share <= _MIDDLE[1]:
        return "centre"
    return last if share > _HIGH_END else None


def quote(text: str) -> str:
    """Write a TOML string on one line."""
    clean = "".join(c if c.isprintable() else " " for c in text).strip()[:200] or "untitled"
    escaped = clean.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def bare_or_quoted(name: str) -> str:
    """Write a TOML key, in quotes only where it needs them."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else quote(name)


# --- the parts of the file ---------------------------------------------------------------------


def _preamble(sketches: Sequence[Sketch], units: Units) -> list[str]:
    lines = ["# A draft. Measure, correct and complete it: what is a guess is commented out.", "#"]
    for item in sketches:
        lines.append(f"# {_comment(item.file.name)}: {item.lines} lines, {_extents(item, units)}")
    return [*lines, ""]


def _extents(item: Sketch, units: Units) -> str:
    if item.low is None or item.high is None:
        return "nothing is cut"
    spans = [
        f"{letter} {format_length(low, units)} to {format_length(high, units)}"
        for letter, low, high in zip("XYZ", item.low, item.high, strict=True)
    ]
    return f"cuts {', '.join(spans)}"


def _comment(text: str) -> str:
    clean = "".join(c if c.isprintable() else "?" for c in text)
    return clean if len(clean) <= 70 else clean[:67] + "..."


def _units_lines(sketches: Sequence[Sketch], units: Units) -> list[str]:
    said = {item.units for item in sketches}
    if said == {units}:
        return [f'units = "{units}"   # the programs say so']
    silent = ", ".join(_comment(item.file.name) for item in sketches if item.units != units)
    return [
        f"# CHECK: {silent}: no {'G21' if units == 'mm' else 'G20'}.",
        "# A program that says nothing is read in these units.",
        f'units = "{units}"',
    ]


def _stock_lines(sketches: Sequence[Sketch], units: Units) -> list[str]:
    zero = guess_zero(sketches)
    hint = next((s.header.stock for s in sketches if s.header.stock), None)
    size = hint.size if hint else None
    if hint is not None and size is not None:
        where = f"from a comment, line {hint.line}: {_comment(hint.text)}"
    else:
        size = _size_around(sketches, zero, hint.thickness if hint else None)
        where = "what the cuts need; the thickness is not known"
        if hint is not None:
            where = f"what the cuts need; thickness: {_comment(hint.text)}"
    shown = [f'"{format_length(value, units)}"' if value else '"?"' for value in size]
    return [
        "# The blank. Measure its thickness, and say where you set the zero.",
        f"# The size below is {where}.",
        "#[stock]",
        f"#size = [{', '.join(shown)}]",
        f'#zero = "{zero or "?"}"   # ' + ("from where the cuts lie" if zero else "not to be seen"),
        '#material = "?"',
        '#spoilboard = "?"',
        "",
    ]


def _size_around(
    sketches: Sequence[Sketch], zero: str | None, thickness: float | None
) -> tuple[float, float, float]:
    boxes = [(s.low, s.high) for s in sketches if s.low is not None and s.high is not None]
    if not boxes:
        return (0.0, 0.0, thickness or 0.0)
    low = np.min([box[0] for box in boxes], axis=0)
    high = np.max([box[1] for box in boxes], axis=0)
    sizes = []
    for axis in range(2):
        if zero is not None and zero.startswith("centre"):
            size = 2 * (max(high[axis], -low[axis]) + _AROUND)
        else:
            size = max(high[axis], -low[axis]) + _AROUND
        sizes.append(float(math.ceil(size)))
    return (sizes[0], sizes[1], thickness or 0.0)


def _machine_lines() -> list[str]:
    return [
        "# The machine: without it times are rough, and its travel is not checked.",
        "#[machine]",
        '#file = "machine.toml"',
        "",
    ]


def _clamp_lines(units: Units) -> list[str]:
    a, b = ('"-20 mm"', '"20 mm"') if units == "mm" else ('"-3/4 in"', '"3/4 in"')
    return [
        "# Clamps, X and Y from the job's zero. If there are none, write clamps = [] at the top.",
        "#[[clamps]]",
        '#name = "left clamp"',
        f"#box = {{ min = [{a}, {a}], max = [{b}, {b}], height = {b} }}",
        "",
    ]


def _bit_lines(sketches: Sequence[Sketch], units: Units) -> list[str]:
    lines: list[str] = []
    seen: set[str] = set()
    for item in sketches:
        bit = item.bit
        name = bit_name(bit, units)
        if bit is None or name is None or name in seen:
            continue
        seen.add(name)
        mark = "" if _complete(bit) else "#"
        lines += [
            f"# {_comment(item.file.name)}, line {bit.line}: {_comment(bit.text)}",
            f"{mark}[bits.{bare_or_quoted(name)}]",
            f'{mark}shape = "{bit.shape or "flat"}"' + ("" if bit.shape else "   # not said"),
            f'{mark}diameter = "{_length(bit.diameter, units)}"',
        ]
        if bit.angle is not None:
            lines.append(f'{mark}angle = "{format_angle(bit.angle)}"')
        if bit.shape == "bull" and bit.corner_radius is not None:
            lines.append(f'{mark}corner_radius = "{_length(bit.corner_radius, units)}"')
        lines += [
            "#flutes = 2   # measure these: they enable more checks",
            '#flute_length = "?"',
            '#shank = "?"',
            '#stickout = "?"',
            "",
        ]
    return lines


def _length(value: float | None, units: Units) -> str:
    return "?" if value is None else format_length(value, units)


def bit_name(bit: BitHint | None, units: Units) -> str | None:
    """Return a short name for a bit, such as "flat-6" or "vee-90"; None when nothing is known."""
    if bit is None or (bit.diameter is None and bit.angle is None):
        return None
    shape = bit.shape or "flat"
    if shape == "vee" and bit.angle is not None:
        return f"vee-{format_angle(bit.angle).rstrip('°')}"
    return f"{shape}-{_length(bit.diameter, units).split()[0]}"


def _complete(bit: BitHint) -> bool:
    """Tell whether a hint is sure and enough to make a bit of."""
    needs_angle = bit.shape in ("vee", "drill", "taper-ball", "taper-flat")
    enough = bit.shape in ("flat", "ball") or (needs_angle and bit.angle is not None)
    enough = enough and bit.shape not in ("taper-ball", "taper-flat")
    bull = bit.shape == "bull" and bit.corner_radius is not None
    return bit.certain and bit.diameter is not None and (enough or bull)


def _stage_lines(number: int, item: Sketch, home: Path, units: Units) -> list[str]:
    path = os.path.relpath(item.file, home).replace(os.sep, "/")
    lines = []
    if number == 0:
        lines.append("# In this order; larger bits usually come first.")
    lines += ["[[stages]]", f"name = {quote(item.file.stem)}"]
    if path.startswith(".."):
        lines.append(
            "# CHECK: copy this program into the job's folder; nothing outside it is read."
        )
    lines.append(f"program = {quote(path)}")
    name = bit_name(item.bit, units)
    if item.bit is not None and name is not None and _complete(item.bit):
        lines.append(f"bit = {quote(name)}")
    else:
        lines.append(f'#bit = "{name or "?"}"   # not said for sure; or like "flat:6mm"')
    return [*lines, _depth_line(item, units), ""]


def _depth_line(item: Sketch, units: Units) -> str:
    if item.low is None or item.low[2] >= -1e-6:
        return '#depth = "?"   # the deepest cut you mean, below the top'
    deepest = format_length(-item.low[2], units)
    hint = item.header.stock
    if hint is not None and -item.low[2] >= hint.thickness - 1e-6:
        return f'#depth = "through"   # its deepest Z is {deepest}, if zero is the top'
    return f'#depth = "{deepest}"   # its deepest Z, if zero is the top'
