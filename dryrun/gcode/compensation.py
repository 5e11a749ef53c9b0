"""Cutter radius compensation: the path of the tool's centre (NISTIR 6556 3.5.10, appendix B).

The tool circle stays tangent to the programmed contour, on its left (G41) or right (G42), in the
XY plane; Z moves along freely. One element is held back until the next is known, because an inside
corner is where both offset elements meet. The report refuses inside corners; many controllers trim
to that meeting point, and so does this room unless the controller refuses.

Angles rad, lengths mm, places job frame. `side` is +1 left, -1 right; a negative radius (B.4) is
the other side with its size.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

from dryrun.gcode.arcs import TURN
from dryrun.gcode.carriage import Carriage, Place, Stamp
from dryrun.gcode.text import Fault
from dryrun.motion import ARC, LINE

#: Directions closer than this run on smoothly.
SMOOTH: Final = 1e-4
#: The report takes an inside corner this flat (rad) for a smooth joint; from memory of its
#: interpreter, the report's text names no number.
FLAT_CORNER: Final = 0.01
_NEAR: Final = 1e-7

Point = tuple[float, float]


@dataclass(slots=True)
class Element:
    """One straight or round piece of the offset path.

    Attributes
    ----------
    kind : RAPID, LINE, PROBE or ARC
    start, end : (x, y)
    low, high : z at the start and at the end
    centre : (x, y) and sweep, for an ARC
    corner : (x, y)
        The programmed end, round which an outside corner turns.
    """

    kind: int
    start: Point
    end: Point
    low: float
    high: float
    stamp: Stamp
    corner: Point
    centre: Point = (0.0, 0.0)
    sweep: float = 0.0

    def heading(self, at: Point) -> float:
        """Direction of travel at a point of the element."""
        if self.kind != ARC:
            return math.atan2(self.end[1] - self.start[1], self.end[0] - self.start[0])
        outward = math.atan2(at[1] - self.centre[1], at[0] - self.centre[0])
        return outward + math.copysign(0.5 * math.pi, self.sweep)


@dataclass(slots=True)
class Compensation:
    """The compensated path while G41 or G42 is on."""

    carriage: Carriage
    side: int
    radius: float
    refuse_concave: bool
    tolerance: float
    programmed: Place
    started: bool = False
    held: Element | None = None
    lifts: list[tuple[int, float, Stamp]] = field(default_factory=list)

    # ---- programmed moves

    def straight(self, kind: int, end: Place) -> None:
        """Take a programmed straight move."""
        stamp = self.carriage.stamp()
        x, y, z = self.programmed
        self.programmed = end
        target = (end[0], end[1])
        if (x, y) == target:
            self._lift(kind, end[2], stamp)
        elif self.radius == 0.0:
            self._push(Element(kind, (x, y), target, z, end[2], stamp, target))
            self.started = True
        elif not self.started:
            self._first_straight(kind, target, z, end[2], stamp)
        else:
            length = math.hypot(target[0] - x, target[1] - y)
            normal = (-(target[1] - y) / length, (target[0] - x) / length)
            shift = self.side * self.radius
            start = (x + shift * normal[0], y + shift * normal[1])
            stop = (target[0] + shift * normal[0], target[1] + shift * normal[1])
            self._push(Element(kind, start, stop, z, end[2], stamp, target))

    def arc(self, centre: Point, sweep: float, end: Place) -> None:
        """Take a programmed arc in the XY plane (centre known)."""
        stamp = self.carriage.stamp()
        x, y, z = self.programmed
        self.programmed = end
        target = (end[0], end[1])
        if not self.started and self.radius != 0.0:
            self._first_arc(centre, sweep, target, z, end[2], stamp)
        else:
            start, stop = self._offset(centre, sweep, (x, y)), self._offset(centre, sweep, target)
            self._push(Element(ARC, start, stop, z, end[2], stamp, target, centre, sweep))
            self.started = True

    def finish(self) -> None:
        """Let go of what is held back: compensation ends, or something else happens here."""
        self._release()

    # ---- first moves (B.6)

    @property
    def awaits_first(self) -> bool:
        """Whether the next move is the first one compensated."""
        return not self.started and self.radius != 0.0

    def first_centre(self, target: Point, radius: float, clockwise: bool) -> Point | None:
        """Centre of a first arc given by radius: through the target, touching the tool here.

        The two centres that fit are mirror images; a positive radius takes the one with the
        shorter way, a negative radius the other.
        """
        x, y, _ = self.carriage.place()
        size = abs(radius)
        inside = clockwise != (self.side > 0)
        reach = size - self.radius if inside else size + self.radius
        apart = math.hypot(target[0] - x, target[1] - y)
        if reach <= 0.0 or not abs(reach - size) <= apart <= reach + size:
            return None
        along = (apart * apart + reach * reach - size * size) / (2.0 * apart)
        across = math.sqrt(max(0.0, reach * reach - along * along))
        unit = ((target[0] - x) / apart, (target[1] - y) / apart)
        left = 1.0 if clockwise == (radius < 0.0) else -1.0
        return (
            x + along * unit[0] - left * across * unit[1],
            y + along * unit[1] + left * across * unit[0],
        )

    def _first_straight(
        self, kind: int, target: Point, low: float, high: float, stamp: Stamp
    ) -> None:
        """To where the tool touches the target with a right angle between path and radius."""
        x, y, _ = self.carriage.place()
        if math.isnan(x) or math.isnan(y):
            raise Fault(
                "not-accepted",
                "radius compensation begins at a place that is not known",
                help="move X and Y to a known place first",
            )
        distance = math.hypot(x - target[0], y - target[1])
        if distance < self.radius:
            raise Fault(
                "conflicting-words",
                f"the first compensated move is {distance:.3f} mm long, less than the tool's "
                f"radius {self.radius:.3f} mm: the tool would cut into the contour",
                help="start farther from the contour than the radius of the tool",
            )
        towards = math.atan2(y - target[1], x - target[0])
        angle = towards - self.side * math.acos(min(1.0, self.radius / distance))
        stop = (
            target[0] + self.radius * math.cos(angle),
            target[1] + self.radius * math.sin(angle),
        )
        self._push(Element(kind, (x, y), stop, low, high, stamp, target))
        self.started = True

    def _first_arc(
        self, centre: Point, sweep: float, target: Point, low: float, high: float, stamp: Stamp
    ) -> None:
        """Along the arc round the programmed centre on which the tool already stands."""
        x, y, _ = self.carriage.place()
        stop = self._offset(centre, sweep, target)
        here = math.hypot(x - centre[0], y - centre[1])
        there = math.hypot(stop[0] - centre[0], stop[1] - centre[1])
        if not abs(here - there) <= max(self.tolerance, 1e-9):
            raise Fault(
                "bad-arc",
                f"the first compensated move is an arc the tool does not touch: it stands "
                f"{here:.3f} mm from the centre, it should be {there:.3f} mm",
                help="switch compensation on with a straight move",
            )
        first = math.atan2(y - centre[1], x - centre[0])
        last = math.atan2(stop[1] - centre[1], stop[0] - centre[0])
        turned = math.fmod(last - first, TURN)
        if sweep > 0.0 and turned <= 0.0:
            turned += TURN
        elif sweep < 0.0 and turned >= 0.0:
            turned -= TURN
        self._push(Element(ARC, (x, y), stop, low, high, stamp, target, centre, turned))
        self.started = True

    # ---- geometry

    def _offset(self, centre: Point, sweep: float, point: Point) -> Point:
        """Point of the offset arc: outside grows by the radius, inside shrinks (B.6)."""
        if self.radius == 0.0:
            return point
        size = math.hypot(point[0] - centre[0], point[1] - centre[1])
        inside = (sweep > 0.0) == (self.side > 0)
        if inside and self.radius >= size:
            raise Fault(
                "bad-arc",
                f"the tool (radius {self.radius:.3f} mm) does not fit inside the arc "
                f"(radius {size:.3f} mm)",
                help="use a smaller tool or a larger arc",
            )
        scale = (size - self.radius if inside else size + self.radius) / size
        return (
            centre[0] + (point[0] - centre[0]) * scale,
            centre[1] + (point[1] - centre[1]) * scale,
        )

    def _push(self, element: Element) -> None:
        """Join the element to the one held back, and hold it back in turn."""
        held = self.held
        if held is None:
            self.held = element
            return
        try:
            if self.radius != 0.0:
                self._join(held, element)
        finally:
            self._release()
            self.held = element

    def _join(self, held: Element, element: Element) -> None:
        turn = element.heading(element.start) - held.heading(held.end)
        turn = math.remainder(turn, TURN)
        if abs(abs(turn) - math.pi) < SMOOTH:
            turn = -self.side * math.pi
        outside = turn * self.side < 0.0
        if abs(turn) <= SMOOTH:
            element.start = held.end
        elif outside:
            self._release()
            self._round(held, turn, element)
        elif abs(turn) <= FLAT_CORNER and self.refuse_concave:
            element.start = held.end
        else:
            self._inside(held, element, turn)

    def _round(self, held: Element, turn: float, element: Element) -> None:
        """Turn an outside corner: an arc of the tool's radius round the programmed corner."""
        height = self.carriage.state.z
        corner = (held.corner[0], held.corner[1], height)
        end = (element.start[0], element.start[1], height)
        self.carriage.arc(corner, 2, turn, end, element.stamp)

    def _inside(self, held: Element, element: Element, turn: float) -> None:
        if self.refuse_concave:
            raise Fault(
                "conflicting-words",
                f"an inside corner of {math.degrees(abs(turn)):.1f} degrees with radius "
                "compensation on: the tool would cut into the contour",
                help="put an arc larger than the tool's radius into the corner",
            )
        meet = meeting_point(held, element)
        if meet is None:
            raise Fault(
                "conflicting-words",
                f"at this inside corner the tool (radius {self.radius:.3f} mm) has no place where "
                "it touches both sides: it would cut into the contour",
                help="use a smaller tool",
            )
        trim_end(held, meet)
        trim_start(element, meet)

    # ---- letting go

    def _lift(self, kind: int, z: float, stamp: Stamp) -> None:
        """Take a move in Z alone: where in XY it happens depends on the next corner."""
        if self.held is None:
            x, y, _ = self.carriage.place()
            self.carriage.straight(kind, (x, y, z), stamp)
        else:
            self.lifts.append((kind, z, stamp))

    def _release(self) -> None:
        held, self.held = self.held, None
        carriage = self.carriage
        if held is not None:
            x, y, z = carriage.place()
            if not (_close(x, held.start[0]) and _close(y, held.start[1])):
                carriage.straight(
                    held.kind if held.kind != ARC else LINE,
                    (held.start[0], held.start[1], z),
                    held.stamp,
                )
            end = (held.end[0], held.end[1], held.high)
            if held.kind == ARC:
                centre = (held.centre[0], held.centre[1], carriage.state.z)
                carriage.arc(centre, 2, held.sweep, end, held.stamp)
            else:
                carriage.straight(held.kind, end, held.stamp)
        for kind, height, stamp in self.lifts:
            x, y, _ = carriage.place()
            carriage.straight(kind, (x, y, height), stamp)
        self.lifts.clear()


def _close(a: float, b: float) -> bool:
    return abs(a - b) <= 1e-6 or (math.isnan(a) and math.isnan(b))


def trim_end(element: Element, point: Point) -> None:
    """Let the element end at a point on it."""
    if element.kind == ARC:
        element.sweep = _angle_to(element, element.start, point)
    element.end = point


def trim_start(element: Element, point: Point) -> None:
    """Let the element begin at a point on it."""
    if element.kind == ARC:
        done = _angle_to(element, element.start, point)
        element.sweep -= done
    element.start = point


def _angle_to(element: Element, start: Point, point: Point) -> float:
    """Signed angle from `start` along the arc to `point`."""
    centre = element.centre
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    last = math.atan2(point[1] - centre[1], point[0] - centre[0])
    turned = math.remainder(last - first, TURN)
    if element.sweep > 0.0 and turned < -_NEAR:
        turned += TURN
    elif element.sweep < 0.0 and turned > _NEAR:
        turned -= TURN
    return turned


def meeting_point(first: Element, second: Element) -> Point | None:
    """Where two offset elements cross: the crossing on both that is last on the first."""
    best: Point | None = None
    best_share = -1.0
    for point in _crossings(first, second):
        share = _share(first, point)
        on_first = -_NEAR <= share <= 1.0 + _NEAR
        on_second = -_NEAR <= _share(second, point) <= 1.0 + _NEAR
        if on_first and on_second and share > best_share:
            best, best_share = point, share
    return best


def _share(element: Element, point: Point) -> float:
    """How far along the element a point of its line or circle lies: 0 start, 1 end."""
    if element.kind == ARC:
        return _angle_to(element, element.start, point) / element.sweep
    dx, dy = element.end[0] - element.start[0], element.end[1] - element.start[1]
    length = dx * dx + dy * dy
    return ((point[0] - element.start[0]) * dx + (point[1] - element.start[1]) * dy) / length


def _crossings(first: Element, second: Element) -> list[Point]:
    if first.kind != ARC and second.kind != ARC:
        return _line_line(first, second)
    if first.kind == ARC and second.kind == ARC:
        return _circle_circle(first, second)
    line, arc = (second, first) if first.kind == ARC else (first, second)
    return _line_circle(line, arc)


def _line_line(first: Element, second: Element) -> list[Point]:
    ax, ay = first.end[0] - first.start[0], first.end[1] - first.start[1]
    bx, by = second.end[0] - second.start[0], second.end[1] - second.start[1]
    cross = ax * by - ay * bx
    if cross == 0.0:
        return []
    cx, cy = second.start[0] - first.start[0], second.start[1] - first.start[1]
    along = (cx * by - cy * bx) / cross
    return [(first.start[0] + along * ax, first.start[1] + along * ay)]


def _size(arc: Element) -> float:
    return math.hypot(arc.start[0] - arc.centre[0], arc.start[1] - arc.centre[1])


def _line_circle(line: Element, arc: Element) -> list[Point]:
    dx, dy = line.end[0] - line.start[0], line.end[1] - line.start[1]
    length = math.hypot(dx, dy)
    if length == 0.0:
        return []
    dx, dy = dx / length, dy / length
    fx, fy = arc.centre[0] - line.start[0], arc.centre[1] - line.start[1]
    along = fx * dx + fy * dy
    off = fx * dy - fy * dx
    inside = _size(arc) ** 2 - off * off
    if inside < 0.0:
        return []
    half = math.sqrt(inside)
    return [
        (line.start[0] + (along + s) * dx, line.start[1] + (along + s) * dy) for s in (-half, half)
    ]


def _circle_circle(first: Element, second: Element) -> list[Point]:
    dx, dy = second.centre[0] - first.centre[0], second.centre[1] - first.centre[1]
    apart = math.hypot(dx, dy)
    r, s = _size(first), _size(second)
    if apart == 0.0 or apart > r + s or apart < abs(r - s):
        return []
    along = (apart * apart + r * r - s * s) / (2.0 * apart)
    half = math.sqrt(max(0.0, r * r - along * along))
    mx, my = first.centre[0] + along * dx / apart, first.centre[1] + along * dy / apart
    return [
        (mx - half * dy / apart, my + half * dx / apart),
        (mx + half * dy / apart, my - half * dx / apart),
    ]
