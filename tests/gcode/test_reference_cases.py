"""Small programs with the exact result NISTIR 6556 gives them.

`pytest tests/gcode/test_reference_cases.py --cases FILE` runs any file of the same form. Cases
whose basis is the report (or memory of its interpreter) run with the controller that takes it to
the letter; cases of common practice with the permissive one and the options they name.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dryrun.gcode.controller import NAMED, PERMISSIVE, Controller, Tool
from dryrun.gcode.program import Program, read_program
from dryrun.motion import MOVING

OWN = Path(__file__).with_name("reference_cases.json")

#: Tool table of the cases (NISTIR 6556 Table 1 and sample files): slot -> length, diameter.
TOOLS = {
    0: Tool(0.0, 0.0), 1: Tool(2.0, 1.0), 2: Tool(1.0, 0.2), 5: Tool(1.5, 0.25),
    10: Tool(2.4, -0.3), 21: Tool(173.740, 0.0), 32: Tool(247.615, 0.0), 41: Tool(228.360, 0.0),
    60: Tool(0.0, 0.0),
}  # fmt: skip

#: The same without lengths: Motion is then in program coordinates.
NO_LENGTHS = {slot: tool._replace(length=None) for slot, tool in TOOLS.items()}

#: Options of practice cases that choose between readings; all else the default takes.
SETTINGS: tuple[tuple[tuple[str, ...], dict[str, Any]], ...] = (
    (("dwell_ms", "dwellms", "p_ms", "ms", "g4ms", "dwell_milliseconds"), {"dwell_unit": "ms"}),
    (("absijk", "ijk_absolute", "abs_ijk", "absolute_ijk", "ijkabs"), {"centre_mode": "absolute"}),
    (("g83r", "g83_r", "peck_r", "peckr"), {"peck_return": "R"}),
    (("g83clear", "peck_clear"), {"peck_return": "clear"}),
    (("g28all", "home_all"), {"home_axes": "all"}),
    (("g28named", "home_named"), {"home_axes": "named"}),
    (("start_g0", "startg0", "initial_g0"), {"start_motion": 0}),
    (("start_g1", "startg1", "initial_g1"), {"start_motion": 1}),
    (("inch_default", "default_inch"), {"default_unit": "in"}),
    (("increments", "nopoint", "no_point", "implied_decimal"), {"decimal_point": "increments"}),
    (("tool_by_t", "t_immediate", "tchange"), {"tool_by_t": True}),
    (("comp_refuse",), {"concave": "refuse"}),
)


def controller_of(case: dict[str, Any]) -> Controller:
    if not case["basis"].startswith("practice"):
        return NAMED["rs274"]
    changes: dict[str, Any] = {"arc_tolerance": 0.01}
    for option in case.get("options", []):
        for names, change in SETTINGS:
            if option.lower() in names:
                changes |= change
    return replace(PERMISSIVE, **changes)


def run_case(case: dict[str, Any], tools: dict[int, Tool] = TOOLS) -> Program:
    initial = case.get("initial", {})
    parameters = {int(k): float(v) for k, v in initial.get("params", {}).items()}
    zero = tuple(parameters.get(5221 + k, 0.0) for k in range(3))
    system = round(parameters.get(5220, 1))
    origin = [parameters.get(5201 + 20 * system + k, 0.0) for k in range(3)]
    position = initial.get("position", [0.0, 0.0, 0.0])
    start = tuple(p + o - z for p, o, z in zip(position, origin, zero, strict=True))
    return read_program(
        case["program"].encode(),
        controller_of(case),
        work_zero=zero,
        tools=tools,
        start=start,
        block_delete=bool(initial.get("block_delete", "block_delete" in case.get("options", []))),
        optional_stop=bool(initial.get("optional_stop", False)),
        _parameters=parameters,
        _trace=True,
    )


def near(found: Any, wanted: Any) -> bool:
    """Equal within 2e-5, relative or (below 1) absolute."""
    if isinstance(wanted, bool) or not isinstance(wanted, int | float):
        return bool(found == wanted)
    return abs(float(found) - wanted) <= 2e-5 * max(1.0, abs(wanted))


def errors_of(case: dict[str, Any], program: Program) -> list[int]:
    """Lines of the errors, first come first; the report's machine has rotary axes, ours has not."""
    return [
        f.line or 0
        for f in program.findings
        if f.level == "error"
        and not (f.code == "no-end" and not case.get("whole_file"))
        and "rotary axis: a check of three axes" not in f.message
    ]


def compare_entry(found: dict[str, Any], wanted: dict[str, Any]) -> list[str]:
    wrong = []
    for key, value in wanted.items():
        got = found.get(key)
        if key in ("to", "mid"):
            good = got is not None and all(near(a, b) for a, b in zip(got, value, strict=True))
        elif key == "centre":
            good = got is not None and all(near(got.get(a, math.nan), b) for a, b in value.items())
        else:
            good = got is not None and near(got, value)
        if not good:
            wrong.append(f"{key}: {got!r}, expected {value!r}")
    return wrong


def compare_list(found: list[dict[str, Any]], wanted: list[dict[str, Any]]) -> list[str]:
    if len(found) != len(wanted):
        return [f"{len(found)} entries, expected {len(wanted)}: {found}"]
    wrong = []
    for number, (one, other) in enumerate(zip(found, wanted, strict=True)):
        wrong += [f"entry {number}: {text}" for text in compare_entry(one, other)]
    return wrong


def bounds_of(program: Program) -> dict[str, list[float]]:
    """Corners of the box round all moves, arcs followed in small steps, job frame."""
    motion = program.motion
    points = []
    for row in np.flatnonzero(np.isin(motion.kind, MOVING)):
        points += [motion.start[row], motion.end[row]]
        if motion.sweep[row]:
            axis = int(motion.axis[row])
            u, v = (axis + 1) % 3, (axis + 2) % 3
            offset = motion.start[row] - motion.centre[row]
            for share in np.linspace(0.0, 1.0, 721):
                angle = share * motion.sweep[row]
                point = motion.start[row] + share * (motion.end[row] - motion.start[row])
                c, s = math.cos(angle), math.sin(angle)
                point[u] = motion.centre[row, u] + offset[u] * c - offset[v] * s
                point[v] = motion.centre[row, v] + offset[u] * s + offset[v] * c
                points.append(point)
    table = np.array(points)
    return {"min": table.min(axis=0).tolist(), "max": table.max(axis=0).tolist()}


MODAL_NAMES = {
    "feed_mode": "feed_mode", "feedmode": "feed_mode", "comp": "compensation", "cutter_comp":
    "compensation", "coord_system": "system", "coordsys": "system", "origin": "system",
    "retract": "return", "return_level": "return", "retract_mode": "return", "path_control": "path",
    "path_mode": "path", "distance_mode": "distance", "motion_mode": "motion", "unit": "units",
    "length_units": "units", "length_unit": "units", "s": "speed", "f": "feed", "spindle_speed":
    "speed", "rpm": "speed", "feed_rate": "feed", "tool_slot": "tool", "selected_tool": "selected",
    "tool_selected": "selected", "pending_tool": "selected", "length_offset": "tlo",
    "tool_length_offset": "tlo",
}  # fmt: skip


def modal_wrong(found: dict[str, Any], key: str, wanted: Any) -> bool:
    got = found.get(MODAL_NAMES.get(key.lower(), key.lower()))
    if isinstance(got, list):
        return sorted(got) != sorted(wanted)
    if isinstance(got, str) and got[:1] == "G":
        text = str(wanted).upper().lstrip("G")
        words = {
            "G21": ("MM",), "G20": ("IN", "INCH"), "G90": ("ABSOLUTE", "ABS"),
            "G91": ("INCREMENTAL", "INC"), "G17": ("XY",), "G18": ("XZ", "ZX"), "G19": ("YZ",),
            "G40": ("OFF", "0", "FALSE", "NONE"), "G41": ("LEFT",), "G42": ("RIGHT",),
            "G61": ("EXACT_PATH", "EXACT PATH", "EXACT-PATH"),
            "G61.1": ("EXACT_STOP", "EXACT STOP", "EXACT-STOP"), "G64": ("CONTINUOUS",),
            "G93": ("INVERSE_TIME", "INVERSE"), "G94": ("UNITS_PER_MINUTE", "PER_MINUTE"),
            "G80": ("NONE",),
        }.get(got, ())  # fmt: skip
        numbers = {f"G{n + 53}": str(n) for n in range(1, 7)}
        numbers |= {f"G59.{n}": str(n + 6) for n in range(1, 4)}
        return text not in (got[1:], *words, numbers.get(got))
    return not near(got, wanted)


def check_case(case: dict[str, Any]) -> list[str]:
    """Return everything that differs from what the case expects."""
    program = run_case(case)
    state, expect = program.state, case["expect"]
    trace = state.trace or []
    errors = errors_of(case, program)
    if "error" in expect:
        if not errors or errors[0] != expect["error"]["line"]:
            return [f"errors on lines {errors}, expected {expect['error']}"]
        return []
    wrong = [f"unexpected errors on lines {errors}: {program.findings}"] if errors else []
    arcs = [e for e in trace if e["t"] == "arc"]
    for key, wanted in expect.items():
        if key in ("end", "machine_end"):
            found = state.position if key == "end" else state.machine
            if not all(near(a, b) for a, b in zip(found, wanted, strict=True)):
                wrong.append(f"{key}: {found}, expected {wanted}")
        elif key == "moves":
            kinds = {e["t"] for e in wanted}
            wrong += compare_list([e for e in trace if e["t"] in SEEN | kinds], wanted)
        elif key == "arc":
            wrong += compare_list(arcs[-1:], [wanted])
        elif key == "arcs":
            wrong += compare_list(arcs, wanted)
        elif key == "x_path":
            wrong += compare_numbers(key, x_path(trace), wanted)
        elif key == "depths":
            feeds = [e["to"][2] for e in trace if e["t"] == "feed"]
            wrong += compare_numbers(key, feeds, wanted)
        elif key == "minutes":
            total = sum(e.get("minutes", 0.0) for e in trace)
            wrong += compare_numbers(key, [total], [wanted])
        elif key == "params":
            for index, value in wanted.items():
                got = state.parameters.get(int(index), 0.0)
                wrong += compare_numbers(f"#{index}", [got], [value])
        elif key in ("messages", "comments"):
            found_texts = [t.strip() for t in getattr(state, key)]
            if found_texts != [t.strip() for t in wanted]:
                wrong.append(f"{key}: {found_texts}, expected {wanted}")
        elif key == "modal":
            wrong += [
                f"modal {name}: {state.modal}, expected {value}"
                for name, value in wanted.items()
                if modal_wrong(state.modal, name, value)
            ]
        elif key == "bounds":
            found_bounds = bounds_of(run_case(case, NO_LENGTHS))
            for side in wanted:
                wrong += compare_numbers(side, found_bounds[side], wanted[side])
        else:
            wrong.append(f"the case expects {key!r}, which the runner does not know")
    return wrong


#: Events that a case always lists among its moves.
SEEN = {"rapid", "feed", "arc", "dwell", "spindle", "sync", "toolchange", "stop"}


def compare_numbers(name: str, found: list[float], wanted: list[float]) -> list[str]:
    if len(found) == len(wanted) and all(near(a, b) for a, b in zip(found, wanted, strict=True)):
        return []
    return [f"{name}: {found}, expected {wanted}"]


def x_path(trace: list[dict[str, Any]]) -> list[float]:
    """X after each line that moves; a line that stays where it is counts with the same X."""
    return [e["to"][0] for e in trace if e["t"] in ("rapid", "feed", "arc", "still")]


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "case" not in metafunc.fixturenames:
        return
    files = [Path(p) for p in metafunc.config.getoption("--cases")] or [OWN]
    cases = [case for path in files for case in json.loads(path.read_text(encoding="utf-8"))]
    metafunc.parametrize("case", cases, ids=[case["id"] for case in cases])


def test_reference_case(case: dict[str, Any]) -> None:
    """Reading a case gives what NISTIR 6556 (or the practice named) says."""
    assert check_case(case) == []
