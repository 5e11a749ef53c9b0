"""A workshop the checks were not written for: rack, machines, and the paths its programs are made of.

Written from the README, the schemas and `dryrun explain` alone, by someone who had not read the
checks, and fixed before the first run (see `README.md` here).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

Lines = list[str]
Files = dict[str, str]

RACK: dict[str, dict[str, Any]] = {
    "end-3": dict(shape="flat", diameter="3 mm", flutes=2, flute_length="12 mm", shank="6 mm",
                  stickout="24 mm", centre_cutting=True, max_rpm=30000),
    "end-3-single": dict(shape="flat", diameter="3 mm", flutes=1, flute_length="12 mm",
                         shank="3 mm", stickout="22 mm", centre_cutting=True, max_rpm=30000),
    "end-4-alu": dict(shape="flat", diameter="4 mm", flutes=1, flute_length="14 mm", shank="4 mm",
                      stickout="22 mm", centre_cutting=True, max_rpm=30000),
    "end-6": dict(shape="flat", diameter="6 mm", flutes=2, flute_length="22 mm", shank="6 mm",
                  stickout="34 mm", centre_cutting=True, max_rpm=28000),
    "end-6-rough": dict(shape="flat", diameter="6 mm", flutes=3, flute_length="22 mm",
                        shank="6 mm", stickout="34 mm", centre_cutting=False, max_rpm=28000),
    "end-8": dict(shape="flat", diameter="8 mm", flutes=2, flute_length="25 mm", shank="8 mm",
                  stickout="38 mm", centre_cutting=True, max_rpm=26000),
    "end-12": dict(shape="flat", diameter="12 mm", flutes=2, flute_length="26 mm", shank="8 mm",
                   stickout="38 mm", centre_cutting=True, max_rpm=24000),
    "face-25": dict(shape="flat", diameter="25 mm", flutes=3, flute_length="10 mm", shank="8 mm",
                    stickout="30 mm", centre_cutting=False, max_rpm=20000),
    "ball-6": dict(shape="ball", diameter="6 mm", flutes=2, flute_length="22 mm", shank="6 mm",
                   stickout="34 mm", centre_cutting=True, max_rpm=28000),
    "ball-10": dict(shape="ball", diameter="10 mm", flutes=2, flute_length="20 mm", shank="8 mm",
                    stickout="34 mm", centre_cutting=True, max_rpm=24000),
    "bull-8": dict(shape="bull", diameter="8 mm", corner_radius="1.5 mm", flutes=2,
                   flute_length="20 mm", shank="8 mm", stickout="34 mm", centre_cutting=True,
                   max_rpm=26000),
    "vee-60": dict(shape="vee", diameter="10 mm", angle="60 deg", flutes=2, flute_length="8.6 mm",
                   shank="6 mm", stickout="30 mm", max_rpm=24000),
    "vee-90": dict(shape="vee", diameter="12 mm", angle="90 deg", flutes=2, flute_length="6 mm",
                   shank="6 mm", stickout="28 mm", max_rpm=24000),
    "graver-30": dict(shape="vee", diameter="3.175 mm", angle="30 deg", tip="0.2 mm", flutes=1,
                      flute_length="5.5 mm", shank="3.175 mm", stickout="18 mm", max_rpm=30000),
    "cone-ball-1": dict(shape="taper-ball", diameter="6 mm", angle="5 deg", tip_radius="1 mm",
                        flutes=2, flute_length="26 mm", shank="6 mm", stickout="38 mm",
                        centre_cutting=True, max_rpm=28000),
    "cone-flat-2": dict(shape="taper-flat", diameter="6 mm", angle="7 deg", tip_diameter="2 mm",
                        flutes=2, flute_length="17 mm", shank="6 mm", stickout="30 mm",
                        centre_cutting=True, max_rpm=28000),
    "drill-3": dict(shape="drill", diameter="3 mm", angle="118 deg", flutes=2,
                    flute_length="33 mm", shank="3 mm", stickout="44 mm", max_rpm=12000),
    "drill-5": dict(shape="drill", diameter="5 mm", angle="118 deg", flutes=2,
                    flute_length="52 mm", shank="5 mm", stickout="62 mm", max_rpm=10000),
    "ogee": dict(shape="form", profile=[["0 mm", "0 mm"], ["3 mm", "0 mm"], ["7 mm", "4 mm"],
                                        ["7 mm", "10 mm"]], flutes=2, flute_length="10 mm",
                 shank="6 mm", stickout="28 mm", centre_cutting=True, max_rpm=22000),
}  # fmt: skip

MACHINES: dict[str, dict[str, Any]] = {
    "bench": dict(
        name="bench router", travel=[[0, 620], [0, 420], [-110, 0]], work_zero=[310, 210, -62],
        park=[10, 410, -2], max_rate=["6000 mm/min", "6000 mm/min", "2400 mm/min"],
        acceleration=["500 mm/s2", "500 mm/s2", "250 mm/s2"], corner_tolerance="0.02 mm",
        rapids="straight", look_ahead=20, safe_height="2 mm",
        holder=[dict(diameter="20 mm", height="18 mm"), dict(diameter="42 mm", height="40 mm")],
        spindle=dict(min="6000 rpm", max="24000 rpm", power="1000 W", start_seconds="3 s")),
    "inch": dict(
        name="garage router", travel=[[0, 24], [0, 18], [-4, 0]], work_zero=[6, 5, -2.4],
        park=[0.5, 17.5, -0.1], max_rate=["200 in/min", "200 in/min", "80 in/min"],
        acceleration=["20 in/s2", "20 in/s2", "10 in/s2"], corner_tolerance="0.001 in",
        safe_height="0.08 in", holder=[dict(diameter="3/4 in", height="5/8 in")],
        spindle=dict(min=10000, max=27000, power="1 hp", start_seconds=3)),
    "small": dict(
        name="desk engraver", travel=[[0, 300], [0, 180], [-60, 0]], work_zero=[60, 40, -30],
        park=[2, 178, -1], max_rate=["2500 mm/min", "2500 mm/min", "1000 mm/min"],
        acceleration=["150 mm/s2", "150 mm/s2", "80 mm/s2"], corner_tolerance="0.01 mm",
        rapids="independent", safe_height="1.5 mm", holder=[dict(diameter="14 mm", height="10 mm")],
        spindle=dict(min="3000 rpm", max="20000 rpm", power="250 W", start_seconds="2 s")),
    "bare": dict(name="hand-built router"),
}  # fmt: skip


@dataclass(frozen=True)
class Work:
    """A job as files: `job.toml` and its programs."""

    name: str
    files: Files
    source: str = ""
    notes: str = ""


def toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value + '"'
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml(item)}" for key, item in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml(item) for item in value) + "]"
    return str(value)


def job(
    title: str,
    stock: dict[str, Any],
    stages: Sequence[dict[str, Any]],
    bits: Iterable[str],
    *,
    machine: str = "bench",
    change: dict[str, Any] | None = None,
    clamps: Sequence[tuple[str, Sequence[float], Sequence[float], str]] | None = (),
    units: str = "mm",
    extra: str = "",
) -> str:
    """The text of a job file; one key a line, so that an edit is one line."""
    out = [f"title = {toml(title)}", f"units = {toml(units)}", "", "[stock]"]
    out += [f"{key} = {toml(value)}" for key, value in stock.items()]
    out += ["", "[machine]"]
    out += [f"{key} = {toml(v)}" for key, v in {**MACHINES[machine], **(change or {})}.items()]
    for name, low, high, height in clamps or ():
        box = dict(min=list(low), max=list(high), height=height)
        out += ["", "[[clamps]]", f"name = {toml(name)}", f"box = {toml(box)}"]
    for bit in bits:
        out += ["", f"[bits.{bit}]"] + [
            f"{key} = {toml(value)}" for key, value in RACK[bit].items()
        ]
    for stage in stages:
        out += ["", "[[stages]]"] + [f"{key} = {toml(value)}" for key, value in stage.items()]
    if clamps is not None and not clamps:
        out.insert(2, "clamps = []")
    return "\n".join(out) + "\n" + extra


def work(name: str, job_text: str, **programs: Lines | str) -> Work:
    files = {"job.toml": job_text}
    for stem, lines in programs.items():
        text = lines if isinstance(lines, str) else "\n".join(lines) + "\n"
        files[stem.replace("_", "-") + ".nc"] = text
    return Work(name, files)


# ------------------------------------------------------------------ paths


def g(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def xy(x: float, y: float) -> str:
    return f"X{g(x)} Y{g(y)}"


def head(
    *comments: str, unit: str = "G21", s: int = 18000, dwell: float = 4, z: float = 25
) -> Lines:
    return [f"({text})" for text in comments] + [
        f"{unit} G17 G90 G94", "G54", f"G0 Z{g(z)}", f"S{s} M3", f"G4 P{g(dwell)}"]  # fmt: skip


def tail(z: float = 25) -> Lines:
    return [f"G0 Z{g(z)}", "M5", "M30"]


def levels(depth: float, step: float, top: float = 0.0) -> list[float]:
    count = math.ceil(depth / step - 1e-9)
    return [round(top - depth * (i + 1) / count, 3) for i in range(count)]


def pocket(
    cx: float, cy: float, w: float, h: float, d: float, step: float, zs: Sequence[float],
    f: int, fz: int, clear: float = 5, top: float = 0.0, near: float = 1.0,
) -> Lines:  # fmt: skip
    """Rectangular pocket: ramp along the middle there and back, then rings outward."""
    turn = h > w
    a, b = ((h if turn else w) - d) / 2, ((w if turn else h) - d) / 2
    count = max(1, math.ceil(b / step - 1e-9))

    def p(u: float, v: float) -> str:
        return xy(cx - v, cy + u) if turn else xy(cx + u, cy + v)

    out, last = [], top
    for z in zs:
        out += [f"G0 {p(-(a - b), 0)}", f"Z{g(top + near)}", f"G1 Z{g(last)} F{fz}"]
        out += [f"G1 {p(a - b, 0)} Z{g((last + z) / 2)} F{f}", f"{p(-(a - b), 0)} Z{g(z)}"]
        out += [p(a - b, 0), p(-(a - b), 0)]
        for ring in range(1, count + 1):
            v = b * ring / count
            u = a - b + v
            out += [p(-u, -v), p(u, -v), p(u, v), p(-u, v), p(-u, -v)]
        out += [f"G0 Z{g(top + clear)}"]
        last = z
    return out


def round_pocket(
    cx: float, cy: float, radius: float, d: float, step: float, zs: Sequence[float],
    f: int, fz: int, pitch: float = 0.8, clear: float = 5, digits: Callable[[float], str] = g,
    near: float = 1.0,
) -> Lines:  # fmt: skip
    """Round pocket: helix down, then full circles outward."""
    helix = min(0.4 * d, radius - d / 2)
    out, last = [f"G0 X{digits(cx + helix)} Y{digits(cy)}", f"Z{digits(near)}"], 0.0
    for z in zs:
        out += [f"G1 Z{digits(last)} F{fz}"]
        turns = max(1, math.ceil((last - z) / pitch))
        back = f"I{digits(-helix)} J0"
        first = f" F{f // 2}"
        for turn in range(1, turns + 1):
            out += [f"G3 X{digits(cx + helix)} Y{digits(cy)} "
                    f"Z{digits(last + (z - last) * turn / turns)} {back}{first}"]  # fmt: skip
            first = ""
        out += [f"G3 X{digits(cx + helix)} Y{digits(cy)} {back} F{f}"]
        outer = radius - d / 2
        count = math.ceil((outer - helix) / step - 1e-9)
        for ring in range(1, count + 1):
            r = helix + (outer - helix) * ring / count
            out += [f"G1 X{digits(cx + r)}", f"G3 X{digits(cx + r)} Y{digits(cy)} I{digits(-r)} J0"]
        out += [f"G0 Z{digits(clear)}", f"X{digits(cx + helix)}", f"Z{digits(near)}"]
        last = z
    return out[:-2]


def outline(
    x0: float, y0: float, x1: float, y1: float, d: float, zs: Sequence[float], f: int, fz: int,
    tabs: Sequence[float] = (), tab_z: float = 0.0, tab: float = 6.0, clear: float = 5,
    top: float = 0.0,
) -> Lines:  # fmt: skip
    """Round the outside of a rectangle, clockwise, tabs at these X on the back and front side."""
    r = d / 2
    out = [f"G0 {xy(x0 - r, y0)}", f"Z{g(top + 1)}", f"G1 Z{g(top)} F{fz}"]

    def side(y: float, order: Iterable[float], end: float, sign: int, z: float) -> Lines:
        lines: Lines = []
        if z < tab_z:
            for x in order:
                half = sign * (tab + d) / 2
                lines += [f"G1 X{g(x - half)} F{f}", f"Z{g(tab_z)}", f"X{g(x + half)}"]
                lines += [f"Z{g(z)} F{fz}"]
            return [*lines, f"G1 X{g(end)} F{f}"]
        return [f"G1 X{g(end)}"]

    for z in zs:
        out += [f"G1 Y{g(y1)} Z{g(z)} F{f}", f"G2 {xy(x0, y1 + r)} I{g(r)} J0"]
        out += side(y1 + r, sorted(tabs), x1, 1, z)
        out += [f"G2 {xy(x1 + r, y1)} I0 J{g(-r)}", f"G1 Y{g(y0)}"]
        out += [f"G2 {xy(x1, y0 - r)} I{g(-r)} J0"]
        out += side(y0 - r, sorted(tabs, reverse=True), x0, -1, z)
        out += [f"G2 {xy(x0 - r, y0)} I0 J{g(r)}"]
    return [*out, f"G1 Y{g(y1)}", f"G0 Z{g(top + clear)}"]


def strokes(
    paths: Sequence[Sequence[tuple[float, float]]], z: float, f: int, fz: int,
    clear: float = 4, near: float = 1.0,
) -> Lines:  # fmt: skip
    """Grooves of one depth along open lines."""
    out: Lines = []
    for path in paths:
        out += [f"G0 {xy(*path[0])}", f"Z{g(near)}", f"G1 Z{g(z)} F{fz}"]
        out += [
            f"G1 {xy(*point)} F{f}" if k == 0 else xy(*point) for k, point in enumerate(path[1:])
        ]
        out += [f"G0 Z{g(clear)}"]
    return out


Surface = Callable[[Any, Any], Any]


def tip_height(surface: Surface, x: Any, y: float, radius: float, shape: str, skin: float) -> Any:
    """Lowest tip of a ball or flat bit at (x, y) that stays `skin` above the surface."""
    r = np.linspace(0, radius, 7)
    angle = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    dx, dy = np.outer(r, np.cos(angle)).ravel(), np.outer(r, np.sin(angle)).ravel()
    rise = radius - np.sqrt(np.maximum(radius**2 - dx**2 - dy**2, 0)) if shape == "ball" else 0 * dx
    heights = surface(x[:, None] + dx, y + dy) - rise
    return heights.max(axis=1) + skin


def scan(
    surface: Surface, box: tuple[float, float, float, float], step: float, along: float,
    radius: float, shape: str, f: int, fz: int, floor: float = -1e9, skin: float = 0.0,
    clear: float = 5,
) -> Lines:  # fmt: skip
    """Passes along X, to and fro, over a surface; `floor` is the level of a roughing pass."""
    x0, y0, x1, y1 = box
    rows = np.linspace(y0, y1, math.ceil((y1 - y0) / step) + 1)
    out: Lines = []
    for k, y in enumerate(rows):
        x = np.linspace(x0, x1, math.ceil((x1 - x0) / along) + 1)
        if k % 2:
            x = x[::-1]
        z = np.maximum(tip_height(surface, x, float(y), radius, shape, skin), floor)
        keep = [i for i in range(len(x)) if i in (0, len(x) - 1)
                or abs(z[i - 1] - 2 * z[i] + z[i + 1]) > 1e-4]  # fmt: skip
        if k == 0:
            out += [f"G0 {xy(x[0], y)}", "Z2", f"G1 Z{g(z[0])} F{fz}"]
        else:
            out += [f"Y{g(float(y))} Z{g(z[0])}"]
        points = [f"X{g(x[i])} Z{g(z[i])}" for i in keep[1:]]
        out += [f"G1 {points[0]} F{f}", *points[1:]] if k == 0 else points
    return [*out, f"G0 Z{g(clear)}"]


def facing(x0: float, y0: float, x1: float, y1: float, step: float, z: float, f: int) -> Lines:
    """To and fro over a whole blank, starting and turning beside it."""
    rows = np.linspace(y0, y1, math.ceil((y1 - y0) / step) + 1)
    out = [f"G0 {xy(x0, rows[0])}", "Z2", f"G1 Z{g(z)} F600"]
    for k, y in enumerate(rows):
        if k:
            out += [f"Y{g(float(y))}"]
        out += [f"X{g(x1 if k % 2 == 0 else x0)}" + (f" F{f}" if k == 0 else "")]
    return [*out, "G0 Z8"]


# ------------------------------------------------------------------ edits


Edit = Callable[[Files], Files]
#: A line of a program as it stands after the edit: its text and which of the equal ones.
Spot = tuple[str, int]


def place(text: str, spot: Spot | str) -> int:
    """1-based line of the nth line that reads exactly so."""
    wanted, nth = (spot, 1) if isinstance(spot, str) else spot
    found = [i for i, line in enumerate(text.splitlines(), 1) if line.strip() == wanted]
    if len(found) < nth:
        raise LookupError(f"line {wanted!r} stands {len(found)} times, not {nth}")
    return found[nth - 1]


def swap(file: str, spot: Spot | str, *new: str) -> Edit:
    """Put `new` in the place of one line (nothing: the line is lost)."""

    def edit(files: Files) -> Files:
        lines = files[file].splitlines()
        index = place(files[file], spot) - 1
        lines[index : index + 1] = new
        return {**files, file: "\n".join(lines) + "\n"}

    return edit


def lose(file: str, spot: Spot | str, count: int = 1) -> Edit:
    def edit(files: Files) -> Files:
        lines = files[file].splitlines()
        index = place(files[file], spot) - 1
        del lines[index : index + count]
        return {**files, file: "\n".join(lines) + "\n"}

    return edit


def replace(file: str, old: str, new: str) -> Edit:
    def edit(files: Files) -> Files:
        if old not in files[file]:
            raise LookupError(f"{old!r} is not in {file}")
        return {**files, file: files[file].replace(old, new)}

    return edit


def cut_off(file: str, spot: Spot | str, keep: int) -> Edit:
    """The copy ended in the middle of this line, after `keep` characters."""

    def edit(files: Files) -> Files:
        lines = files[file].splitlines()
        index = place(files[file], spot) - 1
        return {**files, file: "\n".join([*lines[:index], lines[index][:keep]])}

    return edit


def both(*edits: Edit) -> Edit:
    def edit(files: Files) -> Files:
        for one in edits:
            files = one(files)
        return files

    return edit


def exchange_stages(first: int, second: int) -> Edit:
    def edit(files: Files) -> Files:
        head_text, *stages = files["job.toml"].split("\n[[stages]]\n")
        stages[first], stages[second] = (
            stages[second].rstrip("\n") + "\n",
            stages[first].rstrip("\n") + "\n",
        )
        return {**files, "job.toml": "\n[[stages]]\n".join([head_text, *stages])}

    return edit


def drop_stage(number: int) -> Edit:
    def edit(files: Files) -> Files:
        head_text, *stages = files["job.toml"].split("\n[[stages]]\n")
        del stages[number]
        return {**files, "job.toml": "\n[[stages]]\n".join([head_text, *stages])}

    return edit


@dataclass(frozen=True)
class Planted:
    """One mistake and what has to be said about it.

    `codes`: any of these counts. `where`: the program file and the lines that are right (spots in the
    edited text), or None when the mistake is of a whole stage and has no line. `why`: the reason when
    more than one code or line is defensible.
    """

    name: str
    base: str
    edit: Edit
    codes: tuple[str, ...]
    stage: int | None = 1
    where: tuple[str, tuple[Spot | str | int, ...]] | None = None
    why: str = ""
    story: str = field(default="")

    def files(self, clean: Files) -> Files:
        return self.edit(dict(clean))

    def lines(self, clean: Files) -> set[int] | None:
        if self.where is None:
            return None
        file, spots = self.where
        text = self.files(clean)[file]
        return {spot if isinstance(spot, int) else place(text, spot) for spot in spots}
