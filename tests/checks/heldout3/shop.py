"""Machines, the rack, and job files from them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Job:
    """A job as files: `job.toml` and programs beside it."""

    name: str
    files: dict[str, str]


MACHINES: dict[str, str] = {
    "bench": """
name = "bench router"
travel = [["0 mm", "600 mm"], ["0 mm", "400 mm"], ["-110 mm", "0 mm"]]
work_zero = [{zero}]
max_rate = ["5000 mm/min", "5000 mm/min", "2000 mm/min"]
acceleration = ["400 mm/s2", "400 mm/s2", "200 mm/s2"]
corner_tolerance = "0.02 mm"
rapids = "independent"
safe_height = "3 mm"
holder = [{{ diameter = "19 mm", height = "16 mm" }}, {{ diameter = "43 mm", height = "40 mm" }}]
spindle = {{ min = "8000 rpm", max = "24000 rpm", power = "800 W", start_seconds = "3 s" }}
""",
    "large": """
name = "panel router"
travel = [["-1300 mm", "0 mm"], ["-900 mm", "0 mm"], ["-160 mm", "0 mm"]]
work_zero = [{zero}]
park = ["-1300 mm", "-5 mm", "-5 mm"]
max_rate = ["12000 mm/min", "12000 mm/min", "4000 mm/min"]
acceleration = ["1200 mm/s2", "1200 mm/s2", "600 mm/s2"]
jerk = ["20000 mm/s3", "20000 mm/s3", "10000 mm/s3"]
look_ahead = 64
rapids = "straight"
safe_height = "4 mm"
holder = [{{ diameter = "40 mm", height = "30 mm" }}]
spindle = {{ min = "6000 rpm", max = "24000 rpm", power = "2.2 kW", start_seconds = "5 s" }}
tool_change_seconds = "45 s"
""",
    "small": """
name = "desk mill"
max_rate = ["2500 mm/min", "2500 mm/min", "800 mm/min"]
acceleration = ["150 mm/s2", "150 mm/s2", "80 mm/s2"]
safe_height = "2 mm"
spindle = {{ min = "3000 rpm", max = "20000 rpm", power = "400 W", start_seconds = "2 s" }}
""",
    "inch": """
name = "garage router"
travel = [["0 in", "32 in"], ["0 in", "32 in"], ["-4.5 in", "0 in"]]
work_zero = [{zero}]
max_rate = ["300 in/min", "300 in/min", "100 in/min"]
acceleration = ["25 in/s2", "25 in/s2", "12 in/s2"]
safe_height = "0.15 in"
holder = [{{ diameter = "1 in", height = "0.75 in" }}]
spindle = {{ min = 10000, max = 27000, power = "1.25 hp", start_seconds = 3 }}
""",
}

#: Key -> what the bits file says of it.
RACK: dict[str, str] = {
    "flat-1": 'shape = "flat"\ndiameter = "1 mm"\nflutes = 2\nflute_length = "4 mm"\n'
    'shank = "3.175 mm"\nstickout = "18 mm"\ncentre_cutting = true\nmaterial = "carbide"',
    "flat-2": 'shape = "flat"\ndiameter = "2 mm"\nflutes = 2\nflute_length = "8 mm"\n'
    'shank = "3.175 mm"\nstickout = "20 mm"\ncentre_cutting = true\nmaterial = "carbide"',
    "flat-3": 'shape = "flat"\ndiameter = "3 mm"\nflutes = 2\nflute_length = "14 mm"\n'
    'shank = "6 mm"\nstickout = "28 mm"\ncentre_cutting = true\nmaterial = "carbide"',
    "flat-6": 'shape = "flat"\ndiameter = "6 mm"\nflutes = 2\nflute_length = "25 mm"\n'
    'shank = "6 mm"\nstickout = "36 mm"\ncentre_cutting = true\nmax_rpm = "28000 rpm"\n'
    'helix = "down"\nmaterial = "carbide"',
    "flat-12": 'shape = "flat"\ndiameter = "12 mm"\nflutes = 2\nflute_length = "32 mm"\n'
    'shank = "12 mm"\nstickout = "45 mm"\ncentre_cutting = false\nmax_rpm = "20000 rpm"\n'
    'material = "carbide"',
    "surfacer-25": 'shape = "flat"\ndiameter = "25 mm"\nflutes = 2\nflute_length = "12 mm"\n'
    'shank = "8 mm"\nstickout = "35 mm"\ncentre_cutting = false\nmax_rpm = "18000 rpm"\n'
    'material = "carbide"',
    "single-3": 'shape = "flat"\ndiameter = "3 mm"\nflutes = 1\nflute_length = "12 mm"\n'
    'shank = "3 mm"\nstickout = "22 mm"\ncentre_cutting = true\nmaterial = "carbide"',
    "single-6": 'shape = "flat"\ndiameter = "6 mm"\nflutes = 1\nflute_length = "22 mm"\n'
    'shank = "6 mm"\nstickout = "34 mm"\ncentre_cutting = true\nmaterial = "carbide"',
    "alu-4": 'shape = "flat"\ndiameter = "4 mm"\nflutes = 1\nflute_length = "12 mm"\n'
    'shank = "4 mm"\nstickout = "22 mm"\ncentre_cutting = true\nmaterial = "carbide"',
    "bull-12": 'shape = "bull"\ndiameter = "12 mm"\ncorner_radius = "3 mm"\nflutes = 2\n'
    'flute_length = "30 mm"\nshank = "12 mm"\nstickout = "42 mm"\ncentre_cutting = true\n'
    'material = "carbide"',
    "ball-3": 'shape = "ball"\ndiameter = "3 mm"\nflutes = 2\nflute_length = "12 mm"\n'
    'shank = "3 mm"\nstickout = "26 mm"\ncentre_cutting = true\nmaterial = "carbide"',
    "ball-6": 'shape = "ball"\ndiameter = "6 mm"\nflutes = 2\nflute_length = "22 mm"\n'
    'shank = "6 mm"\nstickout = "36 mm"\ncentre_cutting = true\nmaterial = "carbide"',
    "ball-12": 'shape = "ball"\ndiameter = "12 mm"\nflutes = 2\nflute_length = "26 mm"\n'
    'shank = "12 mm"\nstickout = "42 mm"\ncentre_cutting = true\nmaterial = "carbide"',
    "taper-5": 'shape = "taper-ball"\ndiameter = "6 mm"\ntip_radius = "0.5 mm"\nangle = "5 deg"\n'
    'flutes = 2\nflute_length = "28 mm"\nshank = "6 mm"\nstickout = "38 mm"\n'
    'centre_cutting = true\nmaterial = "carbide"',
    "vee-30": 'shape = "vee"\ndiameter = "4 mm"\nangle = "30 deg"\ntip = "0.1 mm"\nflutes = 1\n'
    'flute_length = "7 mm"\nshank = "4 mm"\nstickout = "22 mm"\nmaterial = "carbide"',
    "vee-60": 'shape = "vee"\ndiameter = "12 mm"\nangle = "60 deg"\nflutes = 2\n'
    'flute_length = "10 mm"\nshank = "6 mm"\nstickout = "32 mm"\nmaterial = "carbide"',
    "vee-90": 'shape = "vee"\ndiameter = "12 mm"\nangle = "90 deg"\nflutes = 2\n'
    'flute_length = "6 mm"\nshank = "6 mm"\nstickout = "28 mm"\nmax_rpm = "24000 rpm"\n'
    'material = "carbide"',
    "drill-3": 'shape = "drill"\ndiameter = "3 mm"\nangle = "118 deg"\nflutes = 2\n'
    'flute_length = "33 mm"\nshank = "3 mm"\nstickout = "42 mm"\nmaterial = "hss"',
    "drill-5": 'shape = "drill"\ndiameter = "5 mm"\nangle = "118 deg"\nflutes = 2\n'
    'flute_length = "40 mm"\nshank = "5 mm"\nstickout = "50 mm"\nmaterial = "carbide"',
    "drill-8": 'shape = "drill"\ndiameter = "8 mm"\nangle = "118 deg"\nflutes = 2\n'
    'flute_length = "40 mm"\nshank = "8 mm"\nstickout = "52 mm"\nmaterial = "carbide"',
    "cove-6": 'shape = "form"\nprofile = [["0 mm", "0 mm"], ["1 mm", "0 mm"], '
    '["5 mm", "6 mm"], ["6 mm", "6.5 mm"]]\nflutes = 2\nflute_length = "6.5 mm"\n'
    'shank = "6 mm"\nstickout = "30 mm"\nmaterial = "carbide"',
    "quarter": 'shape = "flat"\ndiameter = "1/4 in"\nflutes = 2\nflute_length = "1 in"\n'
    'shank = "1/4 in"\nstickout = "1.5 in"\ncentre_cutting = true\nmaterial = "carbide"',
    "eighth": 'shape = "flat"\ndiameter = "1/8 in"\nflutes = 2\nflute_length = "1/2 in"\n'
    'shank = "1/4 in"\nstickout = "1.1 in"\ncentre_cutting = true\nmaterial = "carbide"',
    "eighth-single": 'shape = "flat"\ndiameter = "1/8 in"\nflutes = 1\nflute_length = "1/2 in"\n'
    'shank = "1/8 in"\nstickout = "0.9 in"\ncentre_cutting = true\nmaterial = "carbide"',
    "round-nose": 'shape = "ball"\ndiameter = "1/2 in"\nflutes = 2\nflute_length = "1 in"\n'
    'shank = "1/2 in"\nstickout = "1.6 in"\ncentre_cutting = true\nmaterial = "carbide"',
    "vee-60-inch": 'shape = "vee"\ndiameter = "1/2 in"\nangle = "60 deg"\nflutes = 2\n'
    'flute_length = "0.43 in"\nshank = "1/4 in"\nstickout = "1.25 in"\nmaterial = "carbide"',
}


def job(
    name: str,
    *,
    stock: str,
    stages: Sequence[Mapping[str, object]],
    programs: Mapping[str, str],
    rack: Sequence[str],
    machine: str | None = "bench",
    work_zero: str = "",
    clamps: Sequence[tuple[str, str, str, str]] | None = None,
    units: str = "mm",
    title: str = "",
) -> Job:
    """A job's files; `stock` is TOML, a clamp is name, min, max and height."""
    parts = [f'title = "{title or name}"', f'units = "{units}"', "", "[stock]", stock.strip(), ""]
    if machine is not None:
        text = MACHINES[machine].format(zero=work_zero).strip()
        parts += ["[machine]", text, ""]
    if clamps is not None and not clamps:
        parts.insert(2, "clamps = []")
    for label, low, high, height in clamps or ():
        box = f"{{ min = [{low}], max = [{high}], height = {height} }}"
        parts += ["[[clamps]]", f'name = "{label}"', f"box = {box}", ""]
    for key in rack:
        parts += [f"[bits.{key}]", RACK[key], ""]
    for stage in stages:
        parts.append("[[stages]]")
        for key, value in stage.items():
            parts.append(f"{key} = {value}" if key == "offsets" else f'{key} = "{value}"')
        parts.append("")
    return Job(name, {"job.toml": "\n".join(parts), **programs})
