"""The shop: machines, bits, and the records of a job and of a planted mistake."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.checks.heldout4.tape import Text

#: Small machine whose controller knows lines and arcs, no cycles.
SMALL: dict[str, Any] = {
    "name": "small bench machine",
    "travel": [[0, 380], [0, 290], [-75, 0]],
    "max_rate": [4000, 4000, 1500],
    "acceleration": [300, 300, 150],
    "spindle": {"min": 8000, "max": 24000, "power": "700 W", "start_seconds": 3},
    "safe_height": 3,
    "holder": [{"diameter": 20, "height": 17}, {"diameter": 43, "height": 50}],
    "accepts": ["arcs", "radius-arcs", "helical-arcs", "work-offsets", "machine-moves"],
}
#: Large gantry that takes the published language, with dust shoe.
GANTRY: dict[str, Any] = {
    "name": "gantry",
    "travel": [[0, 1250], [0, 800], [-140, 0]],
    "max_rate": [15000, 15000, 5000],
    "acceleration": [900, 900, 500],
    "spindle": {"min": 6000, "max": 24000, "power": "2.2 kW", "start_seconds": 5},
    "safe_height": 4,
    "holder": [{"diameter": 34, "height": 25}, {"diameter": 80, "height": 90}],
    "dust_shoe": {"diameter": 110, "drop": 12},
    "accepts": ["rs274"],
}
#: A sturdy mill for plates, with coolant; takes loops and subprograms too.
MILL: dict[str, Any] = {
    "name": "plate mill",
    "travel": [[0, 600], [0, 400], [-120, 0]],
    "max_rate": [8000, 8000, 3000],
    "acceleration": [500, 500, 300],
    "spindle": {"min": 3000, "max": 24000, "power": "1.5 kW", "start_seconds": 2},
    "safe_height": 2,
    "holder": [{"diameter": 28, "height": 20}, {"diameter": 60, "height": 60}],
    "accepts": [
        "arcs", "radius-arcs", "helical-arcs", "work-offsets", "drill-cycles", "coolant",
        "tool-change", "parameters", "expressions", "comparisons", "loops", "subprograms",
        "local-subprograms", "machine-moves", "radius-compensation", "signed-values",
        "other-planes",
    ],
}  # fmt: skip
#: A machine in inches.
INCHER: dict[str, Any] = {
    "name": "inch router",
    "unit": "in",
    "travel": [["0 in", "24 in"], ["0 in", "18 in"], ["-4 in", "0 in"]],
    "max_rate": ["200 in/min", "200 in/min", "80 in/min"],
    "acceleration": ["500 mm/s2", "500 mm/s2", "250 mm/s2"],
    "spindle": {"min": 8000, "max": 24000, "power": "1 kW", "start_seconds": 3},
    "safe_height": "0.1 in",
    "holder": [{"diameter": "0.8 in", "height": "0.7 in"}],
    "accepts": ["arcs", "helical-arcs", "radius-arcs", "work-offsets", "drill-cycles", "coolant"],
}


def _bit(shape: str, d: Any, length: Any, shank: Any, out: Any, **more: Any) -> dict[str, Any]:
    return {
        "shape": shape,
        "diameter": d,
        "flutes": 2,
        "flute_length": length,
        "shank": shank,
        "stickout": out,
        "material": "carbide",
        **more,
    }


RACK: dict[str, dict[str, Any]] = {
    "flat-2": _bit("flat", 2, 8, 3, 20, centre_cutting=True),
    "flat-3": _bit("flat", 3, 13, 3, 24, centre_cutting=True),
    "one-edge-3": _bit("flat", 3, 13, 3, 22, centre_cutting=True, flutes=1),
    "flat-4": _bit("flat", 4, 17, 4, 28, centre_cutting=True),
    "flat-6": _bit("flat", 6, 24, 6, 36, centre_cutting=True, max_rpm=28000),
    "one-edge-6": _bit("flat", 6, 22, 6, 34, centre_cutting=True, flutes=1),
    "flat-8": _bit("flat", 8, 28, 8, 40, centre_cutting=True),
    "flat-12": _bit("flat", 12, 32, 12, 45, centre_cutting=False, max_rpm=20000),
    "facer-25": _bit("flat", 25, 12, 8, 38, centre_cutting=False, max_rpm=18000),
    "ball-3": _bit("ball", 3, 12, 3, 26),
    "ball-6": _bit("ball", 6, 24, 6, 38),
    "bull-8": _bit("bull", 8, 25, 8, 40, corner_radius=2, centre_cutting=True),
    "vee-90": _bit("vee", 12, 6, 6, 32, angle="90 deg"),
    "vee-60": _bit("vee", 6, 5, 6, 30, angle="60 deg"),
    "drill-3": _bit("drill", 3, 30, 3, 42, angle="118 deg"),
    "drill-5": _bit("drill", 5, 40, 5, 52, angle="118 deg"),
    "drill-8": _bit("drill", 8, 45, 8, 55, angle="118 deg"),
}


def rack(*names: str) -> dict[str, Any]:
    return {name: copy.deepcopy(RACK[name]) for name in names}


@dataclass
class Work:
    """A job as it would lie in a folder: what goes into job.toml, and a program for each stage."""

    name: str
    table: dict[str, Any]
    texts: dict[str, Text] = field(default_factory=dict)
    open_end: set[str] = field(default_factory=set)  # programs without a line end at the end

    def copy(self) -> Work:
        texts = {k: v.copy() for k, v in self.texts.items()}
        return Work(self.name, copy.deepcopy(self.table), texts, set(self.open_end))

    def text(self, stage: int) -> Text:
        """The program of a stage (1-based)."""
        return self.texts[self.table["stages"][stage - 1]["program"]]

    def put_down(self, folder: Path) -> Path:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in self.texts.items():
            (folder / name).write_bytes(text.bytes(name not in self.open_end))
        path = folder / "job.toml"
        path.write_text(to_toml(self.table), encoding="utf-8")
        return path


def to_toml(table: dict[str, Any]) -> str:
    return "".join(f"{key} = {_value(value)}\n" for key, value in table.items())


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        inside = ", ".join(f'"{k}" = {_value(v)}' for k, v in value.items())
        return "{ " + inside + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_value(one) for one in value) + "]"
    if isinstance(value, str):
        return '"' + value + '"'
    return repr(value)


def job(
    name: str,
    *,
    size: Iterable[Any],
    zero: str | list[float],
    material: str,
    machine: dict[str, Any],
    work_zero: list[Any],
    bits: dict[str, Any],
    stages: list[tuple[dict[str, Any], Text]],
    clamps: list[tuple[float, float, float, float, float]] | None = None,
    units: str = "mm",
    **stock: Any,
) -> Work:
    """A job from its parts; `stages` are (keys, program)."""
    the_machine = copy.deepcopy(machine)
    the_machine["work_zero"] = work_zero
    table: dict[str, Any] = {
        "title": name,
        "units": units,
        "stock": {
            "size": list(size),
            "zero" if isinstance(zero, str) else "zero_at": zero,
            "material": material,
            "spoilboard": 12,
            "allow_into_spoilboard": 0.4,
            **stock,
        },
        "machine": the_machine,
        "bits": bits,
        "stages": [],
    }
    if units == "in":
        table["stock"] |= {"spoilboard": "0.5 in", "allow_into_spoilboard": "0.015 in"}
    if clamps is not None:
        table["clamps"] = [
            {"name": f"clamp {k + 1}", "box": {"min": [a, b], "max": [c, d], "height": h}}
            for k, (a, b, c, d, h) in enumerate(clamps)
        ]
    work = Work(name, table)
    for number, (keys, text) in enumerate(stages, 1):
        program = f"{name}-{number}.nc"
        table["stages"].append({**keys, "program": program})
        work.texts[program] = text
    return work


@dataclass(frozen=True)
class Slip:
    """One planted mistake.

    Attributes
    ----------
    job : name of the clean job
    what : what went wrong, in a few words
    edit : the edit, on a copy of the job
    codes : codes of which any one rightly tells it
    where : (stage, mark) or (stage, mark, offset) where it shows, after the edit; (stage, mark,
        last mark) for any line of a stretch; (stage, None) where a whole stage is at fault; None
        where the set-up is
    also : further places at which telling it is as right, in the same form
    """

    job: str
    what: str
    edit: Callable[[Work], None]
    codes: tuple[str, ...]
    where: tuple[Any, ...] | None
    also: tuple[tuple[Any, ...], ...] = ()

    @property
    def key(self) -> str:
        return f"{self.job}: {self.what}"
