"""Machines, bits, jobs as tables, and edits that the fifth set's frame lacks.

Machines and bits are made up. Feeds, speeds, passes and ramps: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any

from tests.checks.heldout5.core import Edit, Shop, Table, millimetres, number

INCH = 25.4


def mm(value: float) -> str:
    return f"{round(value, 4):g} mm"


#: Machines: travel, rates, spindle, and what hangs from it.
MACHINES: dict[str, Table] = {
    "bench": {
        "name": "bench router",
        "travel": [["0 mm", "620 mm"], ["0 mm", "420 mm"], ["-95 mm", "0 mm"]],
        "max_rate": ["5000 mm/min", "5000 mm/min", "2000 mm/min"],
        "acceleration": ["400 mm/s2", "400 mm/s2", "200 mm/s2"],
        "corner_tolerance": "0.02 mm",
        "rapids": "straight",
        "safe_height": "3 mm",
        "holder": [
            {"diameter": "19 mm", "height": "16 mm"},
            {"diameter": "42 mm", "height": "40 mm"},
        ],
        "spindle": {
            "min": "8000 rpm", "max": "24000 rpm", "power": "800 W", "start_seconds": "5 s",
        },
    },
    "gantry": {
        "name": "gantry router",
        "travel": [["0 mm", "1320 mm"], ["0 mm", "1300 mm"], ["-150 mm", "0 mm"]],
        "max_rate": ["15000 mm/min", "15000 mm/min", "5000 mm/min"],
        "acceleration": ["900 mm/s2", "900 mm/s2", "500 mm/s2"],
        "corner_tolerance": "0.03 mm",
        "rapids": "independent",
        "safe_height": "5 mm",
        "holder": [
            {"diameter": "32 mm", "height": "24 mm"},
            {"diameter": "80 mm", "height": "60 mm"},
        ],
        "dust_shoe": {"diameter": "100 mm", "drop": "8 mm"},
        "spindle": {
            "min": "6000 rpm", "max": "24000 rpm", "power": "2.2 kW", "start_seconds": "6 s",
        },
    },
    "garage": {
        "name": "garage router",
        "travel": [["0 in", "24 in"], ["0 in", "18 in"], ["-4 in", "0 in"]],
        "max_rate": ["200 in/min", "200 in/min", "80 in/min"],
        "acceleration": ["18 in/s2", "18 in/s2", "9 in/s2"],
        "corner_tolerance": "0.001 in",
        "rapids": "straight",
        "safe_height": "0.1 in",
        "holder": [{"diameter": "0.75 in", "height": "0.7 in"}],
        "spindle": {
            "min": "10000 rpm", "max": "27000 rpm", "power": "1 hp", "start_seconds": "3 s",
        },
    },
}  # fmt: skip


def bit(shape: str, diameter: str, flutes: int, length: str, stickout: str, **more: Any) -> Table:
    table: Table = {"shape": shape, "diameter": diameter, "flutes": flutes}
    table |= {"flute_length": length, "stickout": stickout, "shank": diameter}
    if shape in ("flat", "ball", "bull"):
        table["centre_cutting"] = True
    return table | {"material": "carbide", "max_rpm": "24000 rpm"} | more


def order(
    key: str,
    title: str,
    size: tuple[str, str, str],
    zero: str,
    material: str,
    machine: str,
    at: tuple[float, float, float],
    bits: Table,
    clamps: Sequence[tuple[str, float, float, float, float, float]] = (),
    units: str = "mm",
    nominal: str | None = None,
    board: str = "12 mm",
    into: str = "0.4 mm",
) -> Shop:
    """A job without stages; `at` is where the front-left top corner stands in machine coordinates.

    Clamps are (name, x0, y0, x1, y1, height above the top), mm from that corner.
    """
    stock: Table = {"size": list(size), "zero": zero, "material": material}
    stock |= {"nominal_thickness": nominal or size[2], "spoilboard": board}
    stock["allow_into_spoilboard"] = into
    shop = Shop(key, {"title": title, "units": units, "stock": stock})
    shift = shop.zero()
    far = MACHINES[machine]["travel"]
    shop.table["machine"] = MACHINES[machine] | {
        "work_zero": [mm(a + z) for a, z in zip(at, shift, strict=True)],
        "park": [mm(5), mm(millimetres(far[1][1]) - 5), mm(-2)],
    }
    shop.table["clamps"] = [
        {
            "name": name,
            "box": {
                "min": [mm(x0 - shift[0]), mm(y0 - shift[1])],
                "max": [mm(x1 - shift[0]), mm(y1 - shift[1])],
                "height": mm(height),
            },
        }
        for name, x0, y0, x1, y1, height in clamps
    ]
    shop.table["bits"] = bits
    return shop


def put(path: str, value: Any) -> Edit:
    """Declare what was not declared: keys and numbers joined by slashes."""

    def edit(shop: Shop) -> None:
        table: Any = shop.table
        *way, last = [int(k) if k.isdigit() else k for k in path.split("/")]
        for key in way:
            table = table[key]
        assert last not in table
        table[last] = value

    return edit


def both(*edits: Edit) -> Edit:
    """One slip that shows at several places."""

    def edit(shop: Shop) -> None:
        for one in edits:
            one(shop)

    return edit


def rub_out(stage: int, pattern: str) -> Edit:
    """Leave out all lines with a mark like `pattern`."""

    def edit(shop: Shop) -> None:
        program = shop.programs[stage - 1]
        kept = [x for x in program if not any(re.fullmatch(pattern, m) for m in x.marks)]
        assert len(kept) < len(program)
        program[:] = kept

    return edit


def moved(stage: int, first: str, last: str, letter: str, change: Callable[[float], float]) -> Edit:
    """Change a word wherever it stands in a run of lines."""

    def edit(shop: Shop) -> None:
        program = shop.programs[stage - 1]
        for k in range(number(program, first) - 1, number(program, last)):

            def new(found: re.Match[str]) -> str:
                return letter + f"{change(float(found[1])):.4f}".rstrip("0").rstrip(".")

            program[k].text = re.sub(rf"{letter}(-?[0-9.]+)", new, program[k].text)

    return edit


def cut_short(stage: int, mark: str, keep: int) -> Edit:
    """End the file inside a line."""

    def edit(shop: Shop) -> None:
        program = shop.programs[stage - 1]
        at = number(program, mark)
        program[at - 1].text = program[at - 1].text[:keep]
        del program[at:]

    return edit


def exchange(stage: int, first: str, second: str) -> Edit:
    """Two lines that came into the wrong order."""

    def edit(shop: Shop) -> None:
        program = shop.programs[stage - 1]
        a, b = number(program, first) - 1, number(program, second) - 1
        program[a], program[b] = program[b], program[a]

    return edit


def joined(stage: int, mark: str) -> Edit:
    """A line's end lost: the next one follows on the same line."""

    def edit(shop: Shop) -> None:
        program = shop.programs[stage - 1]
        at = number(program, mark) - 1
        program[at].text += " " + program[at + 1].text
        program[at].marks |= program[at + 1].marks
        del program[at + 1]

    return edit
