"""The blank in a window of its own: solid, clamps, bed, path, findings, and a slider over time.

What is shown is plain arrays (`SceneData`), so that a picture can be rendered in a process of its
own: where OpenGL is missing, the library does not fail, the process dies. pyvista is imported only
in `Scene`.
"""

from __future__ import annotations

import importlib
import os
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.child import child_command
from dryrun.report import colours
from dryrun.report.html_path import CUT_POINT, RAPID_POINT, Rows, route, rows_of
from dryrun.report.mesh import solid_of
from dryrun.report.moments import Moments, make_moments
from dryrun.units import Units, format_length, format_time

if TYPE_CHECKING:
    from dryrun.outcome import Outcome

SHOT: Final = (1280, 860)
#: A picture that takes longer than this is given up, s.
PATIENCE: Final = 180.0

Place = tuple[float, float, float]

#: One ink a stage, told apart in every kind of colour vision and in grey by their lightness.
STAGE_INKS: Final = ("#0b3c6f", "#b25a00", "#5b8c2a", "#7a2a6f", "#3a3a3a", "#0d7f86")


@dataclass(frozen=True, slots=True)
class SceneData:
    """What a scene shows; lengths in mm, job frame.

    Attributes
    ----------
    title, units : of the job
    heights : (ny, nx) of the finished blank, in cells of `cell` mm
    low, high : corners of the blank; deepest : depth of its lowest place
    clamps : (name, low, high, height)
    paths : per stage its name, corners (n, 3), row each ends, and whether it is a rapid
    flags : (number, level, code, place)
    moments, rows : for the slider; None for a still picture
    """

    title: str
    units: Units
    heights: NDArray[np.float64]
    cut_by: NDArray[np.int64]
    cell: float
    low: tuple[float, float, float]
    high: tuple[float, float, float]
    deepest: float
    clamps: tuple[tuple[str, tuple[float, float], tuple[float, float], float], ...]
    paths: tuple[tuple[str, NDArray[np.float64], NDArray[np.int64], NDArray[np.int8]], ...]
    flags: tuple[tuple[int, str, str, tuple[float, float, float]], ...]
    moments: Moments | None
    rows: Rows


def scene_data(outcome: Outcome, *, live: bool, threads: int | None = None) -> SceneData:
    """Return what the scene of a job shows; needs a blank and a bit."""
    from dryrun.report.html_data import job_row
    from dryrun.report.moments import lowest_of

    surface, stock = outcome.surface, outcome.job.stock
    assert surface is not None
    assert stock is not None
    step = max(1, -(-max(surface.shape) // (384 if live else 800)))
    heights, cut_by = lowest_of(surface, step)
    moments = make_moments(outcome, threads) if live else None
    return SceneData(
        title=outcome.job.title,
        units=outcome.job.units,
        heights=np.asarray(heights, np.float64),
        cut_by=job_row(outcome, cut_by),
        cell=surface.cell * step,
        low=stock.low,
        high=stock.high,
        deepest=max(stock.top - surface.lowest, 1e-6),
        clamps=tuple((c.name, c.low, c.high, c.height) for c in outcome.job.clamps or ()),
        paths=tuple(_paths(outcome)),
        flags=tuple(_flags(outcome)),
        moments=moments,
        rows=rows_of(outcome),
    )


def _paths(outcome: Outcome) -> Any:
    way, rows = route(outcome), 0
    for stage in outcome.stages:
        mine = (way.row >= rows) & (way.row < rows + len(stage.motion))
        rows += len(stage.motion)
        yield stage.stage.name, way.place[mine], way.row[mine], way.kind[mine]


def _flags(outcome: Outcome) -> Any:
    assert outcome.job.stock is not None
    for number, finding in enumerate(outcome.findings, start=1):
        if finding.at is not None and finding.at[0] == finding.at[0]:
            x, y, z = finding.at
            place = (x, y, z if z == z else outcome.job.stock.top)
            yield number, finding.level, finding.code, place


def vertex_colours(z: NDArray[np.float64], top: float, deepest: float) -> NDArray[np.uint8]:
    """Return the colour of each height: the scale of depths, grey where nothing was cut."""
    depth = top - z
    rgb = colours.depth_colours(depth / deepest)
    rgb[depth < 0.002] = colours.UNCUT
    return np.rint(rgb).astype(np.uint8)


class Scene:
    """A scene in a pyvista plotter."""

    def __init__(self, data: SceneData, *, off_screen: bool) -> None:
        self.data = data
        self.library: Any = importlib.import_module("pyvista")
        self.shown_seconds = float(data.rows.seconds[-1]) if len(data.rows.seconds) else 0.0
        self.plotter = self.library.Plotter(off_screen=off_screen, window_size=list(SHOT))
        self.plotter.set_background("#fdfcfa")
        self.plotter.enable_parallel_projection()
        self.plotter.enable_anti_aliasing("ssaa")
        self._blank()
        self._bed()
        self._clamps()
        self._path()
        self._findings()
        self._words()
        self.look()

    # ------------------------------------------------------------ what is shown

    def _blank(self) -> None:
        data = self.data
        heights = data.heights if data.moments is None else data.moments.moments[-1].heights
        self._grid = _Grid(data, data.cell if data.moments is None else data.moments.cell)
        vertices, faces = self._grid.solid(np.asarray(heights, np.float64))
        self.mesh = self.library.PolyData.from_regular_faces(vertices, faces)
        self._colour(vertices)
        self.plotter.add_mesh(
            self.mesh, scalars="ink", rgb=True, smooth_shading=False, ambient=0.25, diffuse=0.8,
            specular=0.0,
        )  # fmt: skip

    def _colour(self, vertices: NDArray[np.float64]) -> None:
        ink = vertex_colours(vertices[:, 2], self.data.high[2], self.data.deepest)
        ink[len(ink) // 2 :] = (150, 142, 130)
        self.mesh.point_data["ink"] = ink

    def _bed(self) -> None:
        low, high = self.data.low, self.data.high
        centre = ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2, low[2] - 0.01)
        size = max(high[0] - low[0], high[1] - low[1]) * 1.3
        plane = self.library.Plane(center=centre, i_size=size, j_size=size, i_resolution=10,
                              j_resolution=10)  # fmt: skip
        self.plotter.add_mesh(plane, style="wireframe", color="#a7adb2", line_width=1)

    def _clamps(self) -> None:
        top = self.data.high[2]
        for _, low, high, height in self.data.clamps:
            box = self.library.Box((low[0], high[0], low[1], high[1], top, top + height))
            self.plotter.add_mesh(box, color="#78608c", opacity=0.35)
            self.plotter.add_mesh(box, style="wireframe", color="#4d3c5c", line_width=2)

    def _path(self) -> None:
        for number, (name, place, _, kind) in enumerate(self.data.paths):
            ink = STAGE_INKS[number % len(STAGE_INKS)]
            for rapid in (False, True):
                ends = np.flatnonzero(kind[1:] == (RAPID_POINT if rapid else CUT_POINT)) + 1
                if not len(ends):
                    continue
                lines = np.column_stack([np.full(len(ends), 2), ends - 1, ends]).ravel()
                poly = self.library.PolyData(place, lines=lines)
                self.plotter.add_mesh(poly, color=ink, line_width=1, opacity=0.4 if rapid else 0.8)
            words = f"\u2014 path of stage {number + 1}: {name[:50]}"
            spot = (8, SHOT[1] - 78 - 22 * number)
            self.plotter.add_text(words, position=spot, font_size=9, color=ink)

    def _findings(self) -> None:
        inks = {"error": "#6e0b14", "warning": "#8f6300", "note": "#1f5fa8"}
        near = 0.08 * float(np.linalg.norm(np.array(self.data.high) - np.array(self.data.low)))
        labels: list[tuple[str, list[str], Place]] = []
        for number, level, code, place in self.data.flags:
            words = f"{number} {level}: {code}"
            for _, lines, other in labels:
                if np.linalg.norm(np.subtract(place, other)) < near:
                    lines.append(words)
                    break
            else:
                labels.append((level, [words], place))
        for level, lines, place in labels:
            self.plotter.add_point_labels(
                np.array([place]), ["\n".join(lines)], point_color=inks[level],
                text_color="white", shape_color=inks[level], point_size=12, font_size=13,
                always_visible=True, shape="rect" if level == "error" else "rounded_rect", margin=3,
            )  # fmt: skip

    def _words(self) -> None:
        deep = format_length(self.data.deepest, self.data.units)
        words = f"{self.data.title[:70]}\ndeepest {deep} below the top; heights to the same scale"
        self.plotter.add_text(words, position="upper_left", font_size=10, color="#1b1f24")
        self.plotter.add_axes(color="#1b1f24", xlabel="X", ylabel="Y", zlabel="Z")

    def look(self) -> None:
        """Look from the front left, from above; it depends on the set-up alone."""
        low, high = np.array(self.data.low), np.array(self.data.high)
        middle = (low + high) / 2
        size = float(np.linalg.norm(high - low))
        away = np.array([-0.37, -0.70, 0.62])
        self.plotter.camera_position = [
            tuple(middle + away * size * 2), tuple(middle), (0.0, 0.0, 1.0),
        ]  # fmt: skip
        self.plotter.camera.parallel_scale = 0.44 * size

    # ------------------------------------------------------------ what a person does

    def set_seconds(self, seconds: float) -> str:
        """Show the blank as it is at a time; return what there is to say about it."""
        data = self.data
        assert data.moments is not None
        group = int(np.searchsorted(data.rows.seconds, seconds + 5e-4, side="right"))
        row = min(group * data.rows.group, data.moments.moments[-1].row)
        heights, true = data.moments.at(row)
        vertices, _ = self._grid.solid(np.asarray(heights, np.float64))
        self.mesh.points = vertices
        self._colour(vertices)
        self.shown_seconds = seconds
        said = "true heights" if true else "drawn from the marked moments before and after"
        return f"{format_time(seconds)}: {said}"

    def read(self, x: float, y: float) -> str:
        """Say what is known of a place of the finished blank."""
        data = self.data
        ny, nx = data.heights.shape
        ix = int((x - data.low[0]) / data.cell)
        iy = int((y - data.low[1]) / data.cell)
        place = f"X {format_length(x, data.units)}, Y {format_length(y, data.units)}"
        if not (0 <= ix < nx and 0 <= iy < ny and x >= data.low[0] and y >= data.low[1]):
            return f"{place}: off the blank"
        z = float(data.heights[iy, ix])
        depth = format_length(data.high[2] - z, data.units)
        row = int(data.cut_by[iy, ix])
        if row < 0:
            return f"{place}: not cut"
        group = row // data.rows.group
        floor = max(z - data.low[2], 0.0)
        left = format_length(floor, data.units) if floor > 0 else "none"
        return (
            f"{place}: {depth} deep, floor left {left}, "
            f"stage {data.rows.stage[group]}, line {data.rows.line[group]}"
        )

    def open(self) -> None:
        """Open the window and stay until it is closed."""
        seconds = self.shown_seconds
        if self.data.moments is not None and seconds > 0:
            self.plotter.add_slider_widget(
                self._slide, (0.0, seconds / 60.0), value=seconds / 60.0,
                title="minutes into the job", fmt="%.1f", pointa=(0.14, 0.10), pointb=(0.58, 0.10),
                color="#1b1f24", style="modern", title_height=0.02, tube_width=0.004,
                slider_width=0.015,
            )  # fmt: skip
        self.plotter.enable_surface_point_picking(
            callback=self._picked, show_message=False, left_clicking=True, show_point=True,
            color="#1b1f24",
        )  # fmt: skip
        self._say(f"{format_time(seconds)}:\nclick on the blank to read it, or press P over it")
        self.plotter.show(title=f"dryrun: {self.data.title}")

    def _slide(self, minutes: float) -> None:
        self._say(self.set_seconds(60.0 * minutes))

    def _picked(self, point: Any, *_: Any) -> None:
        if point is not None and len(point):
            self._say(self.read(float(point[0]), float(point[1])))

    def _say(self, words: str) -> None:
        self.plotter.add_text(
            words.replace(": ", ":\n", 1), position="lower_right", font_size=9, color="#1b1f24",
            name="said",
        )  # fmt: skip


class _Grid:
    """The solid's corners for one size of grid; faces stay the same whatever the heights."""

    def __init__(self, data: SceneData, cell: float) -> None:
        self.data, self.cell = data, cell

    def solid(self, heights: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
        made = solid_of(heights, _Blank(self.data, self.cell), 1, holes=False)
        return made.vertices, made.faces


@dataclass(frozen=True, slots=True)
class _Blank:
    """The measures of a blank, as `solid_of` asks for them."""

    data: SceneData
    cell: float

    @property
    def low(self) -> tuple[float, float, float]:
        return self.data.low

    @property
    def high(self) -> tuple[float, float, float]:
        return self.data.high

    @property
    def bed(self) -> float:
        return self.data.low[2]


# ---------------------------------------------------------------- a picture without a screen


def shot(data: SceneData, target: Path) -> str:
    """Render a picture in a process of its own; return "" or why that did not work."""
    from dryrun.report.scene_pack import packed

    environment = dict(os.environ)
    if not environment.get("DISPLAY"):
        environment.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")
    command = child_command("dryrun.report.shot:main", str(target))
    try:
        done = subprocess.run(
            command, input=packed(data), capture_output=True, timeout=PATIENCE, check=False,
            env=environment,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return f"it was not done after {PATIENCE:g} s"
    except OSError as error:
        return str(error)
    if done.returncode == 0 and target.exists() and target.stat().st_size > 0:
        return ""
    if done.returncode < 0:
        return f"it was ended by signal {-done.returncode}"
    last = done.stderr.decode(errors="replace").strip().splitlines()
    return last[-1] if last else f"it ended with code {done.returncode}"
