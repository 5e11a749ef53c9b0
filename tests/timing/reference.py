"""References for the tests of timing: blended paths, and their minimum time by the library toppra.

The paths are built here from the published corner geometry, without the code under test. The
minimum time under limits of velocity and acceleration of each axis comes from toppra (Pham & Pham
2018, IEEE Trans. Robotics 34(3), 645-659).
"""

from __future__ import annotations

import logging
import math
from itertools import pairwise

import numpy as np
import toppra
import toppra.algorithm
import toppra.constraint
from toppra.interpolator import AbstractGeometricPath

from dryrun.motion import ARC, LINE, Motion

logging.getLogger("toppra").setLevel(logging.ERROR)


def polyline(points, feed=6000.0, tolerance=math.nan, kind=LINE):
    """Return the motion along the corners of a polyline."""
    points = np.asarray(points, float)
    rows = len(points) - 1
    return Motion(
        kind=np.full(rows, kind, np.int8),
        start=points[:-1],
        end=points[1:],
        centre=np.full((rows, 3), np.nan),
        axis=np.full(rows, -1, np.int8),
        sweep=np.zeros(rows),
        feed=np.broadcast_to(np.asarray(feed, float), (rows,)).copy(),
        spindle=np.zeros(rows),
        tool=np.full(rows, -1, np.int32),
        seconds=np.zeros(rows),
        tolerance=np.full(rows, tolerance),
        line=np.arange(1, rows + 1, dtype=np.int32),
        source=np.zeros(rows, np.int32),
    )


def arc_motion(radius, sweep, start_angle=0.0, rise=0.0, feed=1e9, axis=2):
    """Return the motion along one arc about the origin."""
    first, second = ((1, 2), (2, 0), (0, 1))[axis]
    start, end = np.zeros((1, 3)), np.zeros((1, 3))
    for point, angle in ((start, start_angle), (end, start_angle + sweep)):
        point[0, first] = radius * math.cos(angle)
        point[0, second] = radius * math.sin(angle)
    end[0, axis] = rise
    one = polyline(np.vstack([start, end]), feed)
    columns = {name: getattr(one, name) for name in one.__dataclass_fields__}
    columns.update(
        kind=np.array([ARC], np.int8),
        centre=np.zeros((1, 3)),
        axis=np.array([axis], np.int8),
        sweep=np.array([sweep], float),
    )
    return Motion(**columns)


class Pieces(AbstractGeometricPath):
    """Straight and circular pieces in a row, by arc length, as toppra reads paths."""

    def __init__(self, pieces):
        self.pieces = pieces
        self.ends = np.cumsum([piece[0] for piece in pieces])

    @property
    def dof(self):
        return 3

    @property
    def path_interval(self):
        return np.array([0.0, self.ends[-1]])

    def __call__(self, path_positions, order=0):
        positions = np.atleast_1d(path_positions)
        index = np.minimum(np.searchsorted(self.ends, positions), len(self.pieces) - 1)
        out = np.empty((len(positions), 3))
        for row, (s, i) in enumerate(zip(positions, index, strict=True)):
            length, function = self.pieces[i]
            out[row] = function(s - (self.ends[i] - length), order)
        return out if np.ndim(path_positions) else out[0]


def straight(start, direction, length):
    def function(s, order):
        return (start + s * direction, direction, 0.0 * direction)[order]

    return length, function


def circular(centre, outward, tangent, radius, angle):
    def function(s, order):
        f = s / radius
        radial = outward * math.cos(f) + tangent * math.sin(f)
        forward = tangent * math.cos(f) - outward * math.sin(f)
        return (centre + radius * radial, forward, -radial / radius)[order]

    return radius * angle, function


def blended(points, tolerance):
    """Round the corners of a polyline by tangent arcs within the tolerance, as a list of pieces."""
    points = np.asarray(points, float)
    steps = np.diff(points, axis=0)
    lengths = np.linalg.norm(steps, axis=1)
    directions = steps / lengths[:, None]
    trims = np.zeros(len(points))
    arcs = {}
    for i in range(1, len(points) - 1):
        before, after = directions[i - 1], directions[i]
        turn = math.acos(np.clip(before @ after, -1.0, 1.0))
        if turn < 1e-6:
            continue
        half = turn / 2
        radius = tolerance * math.cos(half) / (1 - math.cos(half))
        radius = min(radius, min(lengths[i - 1], lengths[i]) / 2 / math.tan(half))
        trims[i] = radius * math.tan(half)
        inward = (after - before) / np.linalg.norm(after - before)
        centre = points[i] + inward * radius / math.cos(half)
        outward = points[i] - before * trims[i] - centre
        arcs[i] = circular(centre, outward / radius, before, radius, turn)
    pieces = []
    for i in range(len(lengths)):
        rest = lengths[i] - trims[i] - trims[i + 1]
        if rest > 1e-9:
            pieces.append(straight(points[i] + directions[i] * trims[i], directions[i], rest))
        if i + 1 in arcs:
            pieces.append(arcs[i + 1])
    return pieces


def least_seconds(pieces, rate, acceleration, feed, per_piece=60, scheme=1):
    """Return toppra's minimum time of a path from rest to rest.

    `scheme` 0 holds the limits at the grid points (below the true minimum on a coarse grid), 1
    holds them between the points as well (above it).
    """
    path = Pieces(pieces)
    knots = np.concatenate([[0.0], path.ends])
    shape = (1 - np.cos(np.linspace(0, math.pi, per_piece + 1))) / 2
    grid = np.unique(np.concatenate([a + (b - a) * shape for a, b in pairwise(knots)]))
    rate = np.asarray(rate, float)
    force = np.asarray(acceleration, float)
    limits = [
        toppra.constraint.JointAccelerationConstraint(
            np.column_stack([-force, force]), toppra.constraint.DiscretizationType(scheme)
        ),
        toppra.constraint.JointVelocityConstraint(np.column_stack([-rate, rate])),
        _Feed(feed),
    ]
    solver = toppra.algorithm.TOPPRA(limits, path, gridpoints=grid, solver_wrapper="seidel")
    _, speeds, _ = solver.compute_parameterization(0.0, 0.0)
    return float((2 * np.diff(grid) / (speeds[:-1] + speeds[1:])).sum())


class _Feed(toppra.constraint.LinearConstraint):
    """The speed along the path is at most a feed, mm/s."""

    def __init__(self, feed):
        super().__init__()
        self.feed = feed
        self.identical = False
        self.dof = 3

    def compute_constraint_params(self, path, gridpoints, *args, **kwargs):
        bound = np.tile([0.0, self.feed**2], (len(gridpoints), 1))
        return None, None, None, None, None, None, bound
