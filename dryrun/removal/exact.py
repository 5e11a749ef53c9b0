"""The swept height at one point in double precision: helices, steep lines, forms.

Everything the vector code of `blocks` cannot do. Heights are relative to the start of the path
and minimised over the closed set of places of the tool at which its disc of radius R covers the
point. A form is the least of its rings, each rising or falling from one radius to the next.

Helix of radius A that rises p per radian, a point at distance D from its axis, psi the angle from
the point's own direction: r^2 = D^2 + A^2 - 2 D A cos psi, and p psi + h(r) is least at one of

    ball c     D A cos psi = -p^2 +- sqrt(p^4 + D^2 A^2 - p^2 (c^2 - D^2 - A^2))
    cone k     D A cos psi = (p^2 +- sqrt((p^2 - k^2 D^2)(p^2 - k^2 A^2))) / k^2
    an edge r  D A cos psi = (D^2 + A^2 - r^2) / 2

or at an end. The function has several valleys where the helix is tight, so every candidate is
tried (plane trigonometry; each stands where the derivative is zero or jumps).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from dryrun.jit import inner_kernel
from dryrun.removal.ground import (
    A_BEGIN,
    A_RADIUS,
    A_RISE,
    A_SWEEP,
    HELIX,
    LENGTH,
    RISE,
    UX,
    UY,
)
from dryrun.removal.profile import (
    ARC_RADIUS,
    BLEND,
    BULL,
    CENTRE_Z,
    CORNER,
    FAMILY,
    FORM,
    K_OR_A,
    R0,
    R1,
    RADIUS,
    RING,
    SIDE,
    SLOPE,
    STRAIGHT,
    Z0,
)

TURN: Final = 2.0 * math.pi
_SAME: Final = 1e-9
_PARTS: Final = 12
_HALVINGS: Final = 48


@inner_kernel
def convex_height(tool, r):
    """Height of a convex profile at radius r."""
    t = min(max(r - tool[RING], 0.0), tool[BLEND] - tool[RING])
    low = tool[CORNER] - math.sqrt(max(tool[CORNER] * tool[CORNER] - t * t, 0.0))
    return low + tool[SLOPE] * max(r - tool[BLEND], 0.0)


@inner_kernel
def edge_of(tool, depth):
    """Radius at which a convex profile is `depth` above its tip, and its slope there.

    A profile that is lower everywhere gives its rim, and a depth of 0 or less gives the axis.
    """
    if depth <= 0.0:
        return 0.0, 0.0
    corner, blend, reach = tool[CORNER], tool[BLEND], tool[BLEND] - tool[RING]
    on_arc = min(depth, corner)
    t = min(math.sqrt(max(on_arc * (2.0 * corner - on_arc), 0.0)), reach)
    r, slope = tool[RING] + t, t / max(math.sqrt(max(corner * corner - t * t, 0.0)), _SAME)
    begin = convex_height(tool, blend)
    if depth > begin and tool[SLOPE] > 0.0:
        r, slope = blend + (depth - begin) / tool[SLOPE], tool[SLOPE]
    return min(r, tool[RADIUS]), slope


@inner_kernel
def ring_height(ring, r):
    """Height of one ring of a form at radius r within it."""
    r = min(max(r, ring[R0]), ring[R1])
    if ring[STRAIGHT] > 0.0:
        return ring[Z0] + ring[K_OR_A] * (r - ring[R0])
    across = ring[ARC_RADIUS] * ring[ARC_RADIUS] - (r - ring[K_OR_A]) ** 2
    return ring[CENTRE_Z] + ring[SIDE] * math.sqrt(max(across, 0.0))


@inner_kernel
def lowest_between(tool, rings, nearest, farthest):
    """Least height of the profile over the radii from nearest to farthest."""
    nearest = min(nearest, tool[RADIUS])
    if tool[FAMILY] != FORM:
        return convex_height(tool, nearest)
    farthest = max(min(farthest, tool[RADIUS]), nearest)
    best = np.inf
    for i in range(len(rings)):
        ring = rings[i]
        if ring[R0] <= farthest + _SAME and ring[R1] >= nearest - _SAME:
            best = min(best, ring_height(ring, max(ring[R0], nearest)))
            best = min(best, ring_height(ring, min(ring[R1], farthest)))
    return best


@inner_kernel
def height_over(tool, rings, kind, data, dx, dy):
    """Height over a point above the start of a helix or steep line, and its distance."""
    if kind == HELIX:
        arc = (data[A_RADIUS], data[A_BEGIN], data[A_SWEEP], data[A_RISE])
        near, far = arc_distances(dx, dy, arc)
        if data[A_RISE] == 0.0:
            return lowest_between(tool, rings, near, far), near
        return helix_height(tool, dx, dy, arc), near
    u, w = dx * data[UX] + dy * data[UY], dy * data[UX] - dx * data[UY]
    over = u - min(max(u, 0.0), data[LENGTH])
    z = line_height(tool, rings, u, w, (data[RISE], data[LENGTH]))
    return z, math.sqrt(over * over + w * w)


# --------------------------------------------------------------------------------------------
# A straight segment from its lower end: slope m >= 0, length
# --------------------------------------------------------------------------------------------


@inner_kernel
def line_height(tool, rings, u, w, run):
    """Height over (u, w) above the start of a segment; `run` is (slope, length)."""
    m, length = run
    near = u - min(max(u, 0.0), length)
    away = math.sqrt(near * near + w * w)
    if m == 0.0 or away >= tool[RADIUS]:
        farther = max(abs(u), abs(u - length))
        reached = lowest_between(tool, rings, away, math.sqrt(farther * farther + w * w))
        return m * min(max(u, 0.0), length) + reached
    if tool[FAMILY] == FORM:
        return form_on_slope(tool, rings, u, w, run)
    s = min(max(u - free_offset(tool, w, m), 0.0), length)
    r = math.sqrt((u - s) ** 2 + w * w)
    return m * s + convex_height(tool, min(r, tool[RADIUS]))


@inner_kernel
def free_offset(tool, w, m):
    """Free stationary offset of a convex profile on a slope m > 0 (formulas: module `blocks`)."""
    ww, mm = w * w, m * m
    corner, blend, k = tool[CORNER], tool[BLEND], tool[SLOPE]
    cap = max(tool[RADIUS] * tool[RADIUS] - ww, 0.0)
    if tool[FAMILY] == BULL:
        return math.sqrt(max(min(bull_radius(tool, abs(w), m) ** 2 - ww, cap), 0.0))
    if k <= m and tool[CORNER] < tool[RADIUS]:
        return math.sqrt(cap)
    edge = blend * blend
    if k > m and ww * k * k >= edge * (k * k - mm):
        return math.sqrt(min(ww * mm / (k * k - mm), cap))
    on_ball = mm * (corner * corner - ww) / (1.0 + mm)
    if corner > 0.0 and ww + on_ball <= edge:
        return math.sqrt(max(min(on_ball, cap), 0.0))
    return math.sqrt(max(min(edge - ww, cap), 0.0))


@inner_kernel
def bull_radius(tool, w, m):
    """Radius at which a bull nose touches the surface it sweeps on a slope."""
    ring, corner = tool[RING], tool[CORNER]
    low, high = max((w - ring) / corner, 0.0), 1.0
    for _ in range(_HALVINGS):
        s = 0.5 * (low + high)
        r = ring + corner * s
        if s * s * (r * r - w * w) < m * m * r * r * (1.0 - s * s):
            low = s
        else:
            high = s
    return ring + corner * 0.5 * (low + high)


@inner_kernel
def form_on_slope(tool, rings, u, w, run):
    """Least height of all rings of a form, on both sides of each."""
    m, length = run
    best = np.inf
    for i in range(len(rings)):
        ring = rings[i]
        if ring[R1] < abs(w):
            continue
        inner = math.sqrt(max(ring[R0] ** 2 - w * w, 0.0))
        outer = math.sqrt(max(ring[R1] ** 2 - w * w, 0.0))
        for side in range(2):
            low = max(inner if side == 0 else -outer, u - length)
            high = min(outer if side == 0 else -inner, u)
            if low > high:
                if low > high + _SAME:
                    continue
                low = high
            best = min(best, ring_on_slope(ring, w, m, (low, high)) + m * u)
    return best


@inner_kernel
def ring_on_slope(ring, w, m, span):
    """Least of h(r) - m q over offsets q in the span, which lies within the ring."""
    low, high = span
    best = min(_seen(ring, w, m, low), _seen(ring, w, m, high))
    if ring[STRAIGHT] > 0.0:
        k = ring[K_OR_A]
        if k > m:
            q = m * abs(w) / math.sqrt(k * k - m * m)
            if low < q < high:
                best = min(best, _seen(ring, w, m, q))
        return best
    step = (high - low) / _PARTS
    falling = _falls(ring, w, m, low + 1e-6 * step)
    for part in range(1, _PARTS + 1):
        q = low + step * (part if part < _PARTS else part - 1e-6)
        falls = _falls(ring, w, m, q)
        if falling and not falls:
            best = min(best, _bottom(ring, w, m, (q - step, q)))
        falling = falls
    return best


@inner_kernel
def _seen(ring, w, m, q):
    return ring_height(ring, math.sqrt(q * q + w * w)) - m * q


@inner_kernel
def _falls(ring, w, m, q):
    """Whether h(r) - m q falls with q on an arc: h' = -side (r - a) / sqrt(c^2 - (r - a)^2)."""
    r = math.sqrt(q * q + w * w)
    t = r - ring[K_OR_A]
    across = math.sqrt(max(ring[ARC_RADIUS] ** 2 - t * t, 0.0))
    return -ring[SIDE] * t * q < m * r * across


@inner_kernel
def _bottom(ring, w, m, span):
    low, high = span
    for _ in range(_HALVINGS):
        q = 0.5 * (low + high)
        if _falls(ring, w, m, q):
            low = q
        else:
            high = q
    return _seen(ring, w, m, 0.5 * (low + high))


# --------------------------------------------------------------------------------------------
# Arcs about Z, counter-clockwise: (radius A, angle of the start, sweep, rise per radian)
# --------------------------------------------------------------------------------------------


@inner_kernel
def arc_distances(dx, dy, arc):
    """Nearest and farthest distance from the arc of a point at (dx, dy) from its centre."""
    radius, begin, sweep, _ = arc
    from_centre = math.hypot(dx, dy)
    angle = turned(math.atan2(dy, dx) - begin)
    ax, ay = radius * math.cos(begin), radius * math.sin(begin)
    bx, by = radius * math.cos(begin + sweep), radius * math.sin(begin + sweep)
    to_a, to_b = math.hypot(dx - ax, dy - ay), math.hypot(dx - bx, dy - by)
    nearest, farthest = min(to_a, to_b), max(to_a, to_b)
    if angle <= sweep:
        nearest = abs(from_centre - radius)
    if turned(angle + math.pi) <= sweep:
        farthest = from_centre + radius
    return nearest, farthest


@inner_kernel
def turned(angle):
    """Return the angle in [0, 2 pi)."""
    angle = angle % TURN
    return 0.0 if angle >= TURN else angle


@inner_kernel
def helix_height(tool, dx, dy, arc):
    """Height over (dx, dy) from the centre of a helix, above its start."""
    radius, begin, sweep, p = arc
    from_centre = math.hypot(dx, dy)
    own = math.atan2(dy, dx) - begin
    best = min(
        helix_try(tool, from_centre, own, arc, 0.0), helix_try(tool, from_centre, own, arc, sweep)
    )
    both = from_centre * radius
    if both > 1e-12:
        squares = from_centre * from_centre + radius * radius
        for which in range(7):
            x = helix_candidate(tool, which, (from_centre, radius, squares, p)) / both
            if abs(x) <= 1.0:
                psi = math.acos(x)
                best = min(best, helix_turns(tool, from_centre, own, arc, psi))
                best = min(best, helix_turns(tool, from_centre, own, arc, -psi))
    if best < np.inf:
        return best
    return helix_beside(tool, from_centre, own, arc)


@inner_kernel
def helix_candidate(tool, which, helix):
    """D A cos psi of one candidate; 7 of them, inf where there is none."""
    d, a, squares, p = helix
    pp, both = p * p, d * a
    if which == 0:
        return both
    if which == 1:
        return 0.5 * (squares - tool[RADIUS] ** 2)
    if which == 2:
        return 0.5 * (squares - tool[BLEND] ** 2)
    if which <= 4:
        inside = pp * pp + both * both - pp * (tool[CORNER] ** 2 - squares)
        if inside < 0.0:
            return np.inf
        return -pp + (math.sqrt(inside) if which == 3 else -math.sqrt(inside))
    kk = tool[SLOPE] ** 2
    inside = (pp - kk * d * d) * (pp - kk * a * a)
    if kk <= 0.0 or inside < 0.0:
        return np.inf
    return (pp + (math.sqrt(inside) if which == 5 else -math.sqrt(inside))) / kk


@inner_kernel
def helix_turns(tool, from_centre, own, arc, psi):
    """Least height among all turns at which the tool is at angle psi from the point."""
    best = np.inf
    at = turned(own + psi)
    while at <= arc[2]:
        best = min(best, helix_try(tool, from_centre, own, arc, at))
        at += TURN
    return best


@inner_kernel
def helix_try(tool, from_centre, own, arc, at):
    """Height over the point with the tool at angle `at` from the start; inf out of reach."""
    radius, _, _, p = arc
    square = from_centre**2 + radius**2 - 2.0 * from_centre * radius * math.cos(own - at)
    r = math.sqrt(max(square, 0.0))
    if r > tool[RADIUS] + 1e-6:
        return np.inf
    return p * at + convex_height(tool, min(r, tool[RADIUS]))


@inner_kernel
def helix_beside(tool, from_centre, own, arc):
    """Height of the rim at the nearest place to a point that the cutter never covers."""
    _, _, sweep, p = arc
    at = turned(own)
    if at > sweep:
        to_start, to_end = math.cos(own), math.cos(own - sweep)
        at = 0.0 if to_start > to_end else sweep
    elif p < 0.0:
        at += TURN * math.floor((sweep - at) / TURN)
    return p * at + convex_height(tool, tool[RADIUS])
