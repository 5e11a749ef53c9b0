"""Machine and bits of a hobby workshop, and the edits the frame lacks.

Feeds, speeds, depths of passes and ramps are common practice, no source.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Any

from tests.checks.heldout5.core import Edit, Shop, Table, line, millimetres, number
from tests.checks.heldout5.tape import Line

#: The blank's front-left top corner in machine coordinates, mm; its height is that of a blank of
#: 20 mm on the board.
CORNER = (80.0, 60.0)
BOARD = -78.0

BITS: dict[str, Table] = {
    "flat-8": {"shape": "flat", "diameter": "8 mm", "flutes": 2, "flute_length": "32 mm",
               "shank": "8 mm", "stickout": "42 mm"},
    "flat-6": {"shape": "flat", "diameter": "6 mm", "flutes": 2, "flute_length": "24 mm",
               "shank": "6 mm", "stickout": "36 mm"},
    "single-4": {"shape": "flat", "diameter": "4 mm", "flutes": 1, "flute_length": "14 mm",
                 "shank": "4 mm", "stickout": "26 mm"},
    "flat-3": {"shape": "flat", "diameter": "3 mm", "flutes": 2, "flute_length": "14 mm",
               "shank": "3 mm", "stickout": "26 mm"},
    "facer-22": {"shape": "flat", "diameter": "22 mm", "flutes": 2, "flute_length": "12 mm",
                 "shank": "8 mm", "stickout": "36 mm"},
    "ball-8": {"shape": "ball", "diameter": "8 mm", "flutes": 2, "flute_length": "30 mm",
               "shank": "8 mm", "stickout": "42 mm"},
    "ball-4": {"shape": "ball", "diameter": "4 mm", "flutes": 2, "flute_length": "16 mm",
               "shank": "4 mm", "stickout": "28 mm"},
    "vee-60": {"shape": "vee", "diameter": "10 mm", "angle": "60 deg", "flutes": 2,
               "flute_length": "8 mm", "shank": "6 mm", "stickout": "30 mm"},
    "vee-90": {"shape": "vee", "diameter": "12 mm", "angle": "90 deg", "flutes": 2,
               "flute_length": "6 mm", "shank": "6 mm", "stickout": "30 mm"},
    "drill-3": {"shape": "drill", "diameter": "3 mm", "angle": "118 deg", "flutes": 2,
                "flute_length": "30 mm", "shank": "3 mm", "stickout": "40 mm"},
    "drill-5": {"shape": "drill", "diameter": "5 mm", "angle": "118 deg", "flutes": 2,
                "flute_length": "40 mm", "shank": "5 mm", "stickout": "50 mm"},
}  # fmt: skip

INCH_BITS: dict[str, Table] = {
    "end-1/2": {"shape": "flat", "diameter": "1/2 in", "flutes": 2, "flute_length": "1.25 in",
                "shank": "1/2 in", "stickout": "1.75 in"},
    "end-1/4": {"shape": "flat", "diameter": "1/4 in", "flutes": 2, "flute_length": "1 in",
                "shank": "1/4 in", "stickout": "1.5 in"},
    "end-1/8": {"shape": "flat", "diameter": "1/8 in", "flutes": 2, "flute_length": "0.55 in",
                "shank": "1/8 in", "stickout": "1.1 in"},
    "ball-1/2": {"shape": "ball", "diameter": "1/2 in", "flutes": 2, "flute_length": "1.25 in",
                 "shank": "1/2 in", "stickout": "1.75 in"},
    "ball-1/4": {"shape": "ball", "diameter": "1/4 in", "flutes": 2, "flute_length": "1 in",
                 "shank": "1/4 in", "stickout": "1.5 in"},
    "vee-90-in": {"shape": "vee", "diameter": "3/4 in", "angle": "90 deg", "flutes": 2,
                  "flute_length": "0.37 in", "shank": "1/4 in", "stickout": "1.25 in"},
}  # fmt: skip


def shop(
    key: str, title: str, size: tuple[str, str, str], zero: str, material: str, *,
    units: str = "mm", rack: dict[str, Table] = BITS, clamps: list[Table] | None = None,
    nominal: str | None = None, board: str = "12 mm", into: str = "0.4 mm",
) -> Shop:  # fmt: skip
    """A job without stages."""
    rack = {name.replace("/", "-"): table for name, table in rack.items()}
    stock: Table = {"size": list(size), "zero": zero, "material": material}
    if nominal:
        stock["nominal_thickness"] = nominal
    stock |= {"spoilboard": board, "allow_into_spoilboard": into}
    made = Shop(key, {"title": title, "units": units, "stock": stock})
    thick = millimetres(size[2])
    x, y, z = made.zero()
    made.table["machine"] = machine((CORNER[0] + x, CORNER[1] + y, BOARD + thick + z))
    if clamps is not None:
        made.table["clamps"] = clamps
    made.table["bits"] = {
        name: {**table, "centre_cutting": True, "max_rpm": "26000 rpm", "material": "carbide"}
        for name, table in rack.items()
    }
    return made


def machine(zero: tuple[float, float, float]) -> Table:
    return {
        "name": "bench router",
        "travel": [["0 mm", "820 mm"], ["0 mm", "620 mm"], ["-100 mm", "0 mm"]],
        "work_zero": [f"{v:.3f} mm" for v in zero],
        "max_rate": ["6000 mm/min", "6000 mm/min", "2500 mm/min"],
        "acceleration": ["500 mm/s2", "500 mm/s2", "250 mm/s2"],
        "corner_tolerance": "0.02 mm",
        "safe_height": "3 mm",
        "spindle": {"min": "6000 rpm", "max": "24000 rpm", "power": "1.5 kW",
                    "start_seconds": "4 s"},
        "holder": [{"diameter": "26 mm", "height": "20 mm"},
                   {"diameter": "65 mm", "height": "60 mm"}],
    }  # fmt: skip


def clamp(made: Shop, name: str, low: tuple[float, float], high: tuple[float, float],
          height: float) -> None:  # fmt: skip
    """Add a clamp, given in the frame of the tape (mm from the blank's front-left corner)."""
    x, y, _ = made.zero()
    box = {
        "min": [f"{low[0] - x:.2f} mm", f"{low[1] - y:.2f} mm"],
        "max": [f"{high[0] - x:.2f} mm", f"{high[1] - y:.2f} mm"],
        "height": f"{height} mm",
    }
    made.table.setdefault("clamps", []).append({"name": name, "box": box})


def together(*edits: Edit) -> Edit:
    """Several places that one slip changes."""

    def edit(made: Shop) -> None:
        for one in edits:
            one(made)

    return edit


def renamed(stage: int, mark: str, new: str) -> Edit:
    """Write another text in a line's place."""

    def edit(made: Shop) -> None:
        at = line(made, stage, mark)
        assert at.text != new
        at.text = new

    return edit


def later(stage: int, first: str, letter: str, change: Callable[[float], float]) -> Edit:
    """Change a word on every line from a mark on: a program made for something else."""

    def edit(made: Shop) -> None:
        program = made.programs[stage - 1]
        changed = 0
        for at in program[number(program, first) - 1 :]:
            if at.text[:1] in "(;":
                continue

            def put(found: re.Match[str]) -> str:
                return letter + f"{change(float(found[1])):.4f}".rstrip("0").rstrip(".")

            text, count = re.subn(rf"{letter}(-?[0-9.]+)", put, at.text)
            changed += count
            at.text = text
        assert changed

    return edit


def exchanged(stage: int, one: str, other: str) -> Edit:
    """Two lines the wrong way round."""

    def edit(made: Shop) -> None:
        program = made.programs[stage - 1]
        a, b = number(program, one) - 1, number(program, other) - 1
        program[a], program[b] = program[b], program[a]

    return edit


def same_program(stage: int, as_stage: int) -> Edit:
    """A stage runs the program of another one."""

    def edit(made: Shop) -> None:
        made.programs[stage - 1] = [Line(x.text, set(x.marks)) for x in made.programs[as_stage - 1]]

    return edit


def thickness(text: str) -> Edit:
    """The blank is of another thickness; Z zero is set on it as the job says."""

    def edit(made: Shop) -> None:
        size: list[Any] = made.table["stock"]["size"]
        old = millimetres(size[2])
        size[2] = text
        zero = made.table["machine"]["work_zero"]
        if made.table["stock"]["zero"].endswith("top"):
            zero[2] = f"{millimetres(zero[2]) + millimetres(text) - old:.3f} mm"

    return edit


def polygon(centre: tuple[float, float], radius: float, count: int, turn: float = 0.0
            ) -> list[tuple[float, float]]:  # fmt: skip
    """Corners of a regular polygon."""
    return [
        (centre[0] + radius * math.cos(turn + 2 * math.pi * k / count),
         centre[1] + radius * math.sin(turn + 2 * math.pi * k / count))
        for k in range(count)
    ]  # fmt: skip
