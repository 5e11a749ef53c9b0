"""Machine and bits of a workshop in a garage, and the edits the frame lacks.

Feeds, speeds, depths of passes and ramps are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from tests.checks.heldout5.core import Edit, Shop, Table, line, millimetres, number
from tests.checks.heldout5.tape import Line

#: The blank's front-left corner, and the top of the board under it, in machine coordinates, mm.
CORNER = (65.0, 45.0)
BOARD = -92.0


def bit(shape: str, diameter: str, edge: float, shank: float, out: float, flutes: int = 2,
        **more: Any) -> Table:  # fmt: skip
    return {"shape": shape, "diameter": diameter, "flutes": flutes, "flute_length": f"{edge} mm",
            "shank": f"{shank} mm", "stickout": f"{out} mm", "centre_cutting": True,
            "max_rpm": "28000 rpm", "material": "carbide", **more}  # fmt: skip


BITS: dict[str, Table] = {
    "surfacer-25": bit("flat", "25 mm", 11, 8, 34, max_rpm="20000 rpm", centre_cutting=False),
    "flat-8": bit("flat", "8 mm", 32, 8, 44),
    "flat-6": bit("flat", "6 mm", 25, 6, 38),
    "long-6": bit("flat", "6 mm", 48, 6, 60),
    "single-4": bit("flat", "4 mm", 15, 4, 28, flutes=1),
    "alu-4": bit("flat", "4 mm", 11, 4, 22, flutes=1),
    "flat-3": bit("flat", "3 mm", 12, 3, 26),
    "flat-2": bit("flat", "2 mm", 7, 3, 24),
    "ball-12": bit("ball", "12 mm", 38, 8, 52),
    "ball-10": bit("ball", "10 mm", 28, 8, 42),
    "ball-6": bit("ball", "6 mm", 22, 6, 38),
    "ball-4": bit("ball", "4 mm", 14, 4, 28),
    "vee-60": bit("vee", "10 mm", 8, 6, 32, angle="60 deg"),
    "vee-90": bit("vee", "14 mm", 7, 6, 32, angle="90 deg"),
    "drill-3": bit("drill", "3 mm", 34, 3, 44, angle="118 deg"),
    "drill-5": bit("drill", "5 mm", 42, 5, 52, angle="118 deg"),
    "keyhole-9": {"shape": "form", "profile": [[0, 0], [4.6, 0], [4.6, 3.4], [2.2, 3.4],
                  [2.2, 12]], "flutes": 2, "flute_length": "12 mm", "shank": "6 mm",
                  "stickout": "30 mm", "centre_cutting": True, "max_rpm": "24000 rpm",
                  "material": "carbide"},
}  # fmt: skip

INCH_BITS: dict[str, Table] = {
    "end-1/2": bit("flat", "1/2 in", 32, 12.7, 45),
    "end-1/4": bit("flat", "1/4 in", 25, 6.35, 38),
    "end-1/8": bit("flat", "1/8 in", 13, 3.175, 28),
    "drill-5": bit("drill", "5 mm", 42, 5, 52, angle="118 deg"),
    "drill-3/16": bit("drill", "3/16 in", 40, 4.7625, 50, angle="118 deg"),
    "vee-90": bit("vee", "1/2 in", 6.3, 6.35, 32, angle="90 deg"),
}


def shop(
    key: str, title: str, size: tuple[str, str, str], zero: str, material: str, rack: list[str],
    *, units: str = "mm", into: str = "0.4 mm", shoe: bool = False, **stock: str,
) -> Shop:  # fmt: skip
    """A job without stages or clamps."""
    bits = INCH_BITS if units == "in" else BITS
    table: Table = {"size": list(size), "zero": zero, "material": material, "spoilboard": "15 mm",
                    "allow_into_spoilboard": into, **stock}  # fmt: skip
    made = Shop(key, {"title": title, "units": units, "stock": table})
    x, y, z = made.zero()
    zero_at = (CORNER[0] + x, CORNER[1] + y, BOARD + millimetres(size[2]) + z)
    made.table["machine"] = {
        "name": "garage router",
        "travel": [["0 mm", "640 mm"], ["0 mm", "440 mm"], ["-110 mm", "0 mm"]],
        "work_zero": [f"{v:.3f} mm" for v in zero_at],
        "max_rate": ["5000 mm/min", "5000 mm/min", "2000 mm/min"],
        "acceleration": ["400 mm/s2", "400 mm/s2", "200 mm/s2"],
        "corner_tolerance": "0.03 mm",
        "safe_height": "3 mm",
        "spindle": {"min": "5000 rpm", "max": "24000 rpm", "power": "1.1 kW",
                    "start_seconds": "3 s"},
        "holder": [{"diameter": "25 mm", "height": "18 mm"},
                   {"diameter": "62 mm", "height": "70 mm"}],
    }  # fmt: skip
    if shoe:
        made.table["machine"]["dust_shoe"] = {"diameter": "90 mm", "drop": "6 mm"}
    made.table["clamps"] = []
    made.table["bits"] = {name.replace("/", "-"): dict(bits[name]) for name in rack}
    return made


def clamp(made: Shop, name: str, low: tuple[float, float], high: tuple[float, float],
          height: float) -> None:  # fmt: skip
    """Add a clamp, in mm from the blank's front-left corner."""
    x, y, _ = made.zero()
    box = {
        "min": [f"{low[0] - x:.3f} mm", f"{low[1] - y:.3f} mm"],
        "max": [f"{high[0] - x:.3f} mm", f"{high[1] - y:.3f} mm"],
        "height": f"{height} mm",
    }
    made.table["clamps"].append({"name": name, "box": box})


def clamps(made: Shop, size: tuple[float, float], depth: float, width: float, over: float,
           height: float) -> None:  # fmt: skip
    """One clamp at the middle of the left and of the right edge, `over` mm onto the blank."""
    low, high = size[1] / 2 - width / 2, size[1] / 2 + width / 2
    clamp(made, "left clamp", (-depth, low), (over, high), height)
    clamp(made, "right clamp", (size[0] - over, low), (size[0] + depth, high), height)


def together(*edits: Edit) -> Edit:
    """All that one slip changes."""

    def edit(made: Shop) -> None:
        for one in edits:
            one(made)

    return edit


def rewritten(stage: int, mark: str, new: str) -> Edit:
    """Another text in a line's place."""

    def edit(made: Shop) -> None:
        at = line(made, stage, mark)
        assert at.text != new
        at.text = new

    return edit


def between(stage: int, first: str, last: str, letter: str, change: Callable[[float], float]
            ) -> Edit:  # fmt: skip
    """Change a word on every line from one mark to another."""

    def edit(made: Shop) -> None:
        program = made.programs[stage - 1]
        changed = 0

        def put(found: re.Match[str]) -> str:
            return found[1] + f"{change(float(found[2])):.4f}".rstrip("0").rstrip(".")

        for at in program[number(program, first) - 1 : number(program, last)]:
            if at.text[:1] in "(;%":
                continue
            at.text, count = re.subn(rf"((?i:{letter}))(-?[0-9.]+)", put, at.text)
            changed += count
        assert changed

    return edit


def add(stage: int, key: str, value: Any) -> Edit:
    """Declare of a stage what the clean job does not say."""

    def edit(made: Shop) -> None:
        table = made.table["stages"][stage - 1]
        assert key not in table
        table[key] = value

    return edit


def program_of(stage: int, other: int) -> Edit:
    """A stage runs another one's program."""

    def edit(made: Shop) -> None:
        copy = [Line(x.text, set(x.marks)) for x in made.programs[other - 1]]
        made.programs[stage - 1] = copy

    return edit


def without(stage: int, *starts: str) -> Edit:
    """Leave out all lines whose marks begin like this."""

    def edit(made: Shop) -> None:
        kept = [x for x in made.programs[stage - 1]
                if not any(m.startswith(s) for m in x.marks for s in starts)]  # fmt: skip
        assert len(kept) < len(made.programs[stage - 1])
        made.programs[stage - 1] = kept

    return edit


def moved_clamp(index: int, across: float, away: float) -> Edit:
    """A clamp stands elsewhere."""

    def edit(made: Shop) -> None:
        box = made.table["clamps"][index]["box"]
        for corner in ("min", "max"):
            x, y = (millimetres(v) for v in box[corner])
            box[corner] = [f"{x + across:.3f} mm", f"{y + away:.3f} mm"]

    return edit


def measured(text: str) -> Edit:
    """The blank is of another thickness; Z zero is touched off on it as the job says."""

    def edit(made: Shop) -> None:
        size: list[Any] = made.table["stock"]["size"]
        more = millimetres(text) - millimetres(size[2])
        size[2] = text
        if made.table["stock"]["zero"].endswith("top"):
            zero = made.table["machine"]["work_zero"]
            zero[2] = f"{millimetres(zero[2]) + more:.3f} mm"

    return edit
