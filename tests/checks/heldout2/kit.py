"""The second stranger's workshop: machines, bits, and pieces of path."""

import math
from typing import Any

from .tape import Made, Tape

SPINDLE = {"min": "6000 rpm", "max": "24000 rpm", "power": "2.2 kW", "start_seconds": "3 s"}
NUT = [{"diameter": "28 mm", "height": "20 mm"}, {"diameter": "65 mm", "height": "60 mm"}]
TABLE = {
    "travel": [["0 mm", "1000 mm"], ["0 mm", "800 mm"], ["-140 mm", "0 mm"]],
    "work_zero": ["150 mm", "120 mm", "-90 mm"],
    "max_rate": ["8000 mm/min", "8000 mm/min", "3000 mm/min"],
    "acceleration": ["600 mm/s2", "600 mm/s2", "300 mm/s2"],
    "corner_tolerance": "0.05 mm",
    "safe_height": "2 mm",
    "holder": NUT,
    "spindle": SPINDLE,
}
SMALL = {
    "travel": [["-300 mm", "0 mm"], ["-200 mm", "0 mm"], ["-70 mm", "0 mm"]],
    "work_zero": ["-240 mm", "-160 mm", "-45 mm"],
    "max_rate": ["2500 mm/min", "2500 mm/min", "800 mm/min"],
    "acceleration": ["200 mm/s2", "200 mm/s2", "100 mm/s2"],
    "corner_tolerance": "0.01 mm",
    "safe_height": "1.5 mm",
    "holder": [{"diameter": "17 mm", "height": "14 mm"}],
    "spindle": {"min": "5000 rpm", "max": "24000 rpm", "power": "500 W", "start_seconds": "2 s"},
}
HALL = {
    **TABLE,
    "travel": [["0 mm", "2500 mm"], ["0 mm", "1300 mm"], ["-220 mm", "0 mm"]],
    "work_zero": ["300 mm", "200 mm", "-180 mm"],
    "max_rate": ["25000 mm/min", "25000 mm/min", "8000 mm/min"],
    "spindle": {"min": "9000 rpm", "max": "24000 rpm", "power": "6 kW", "start_seconds": "4 s"},
    "safe_height": "5 mm",
}


def flat(d: float, flute: float, out: float, n: int = 2, **more: Any) -> dict[str, Any]:
    """Return a flat bit, mm."""
    return bit("flat", d, flute, out, n, centre_cutting=True, **more)


def bit(
    shape: str, d: float, flute: float, out: float, n: int = 2, shank: float = 0, **more: Any
) -> dict[str, Any]:
    """Return any bit, mm."""
    return {
        "shape": shape,
        "diameter": f"{d} mm",
        "flutes": n,
        "flute_length": f"{flute} mm",
        "shank": f"{shank or max(d, 3)} mm",
        "stickout": f"{out} mm",
        "material": "carbide",
        **more,
    }


def made(
    name: str,
    size: tuple[float, float, float],
    zero: str,
    material: str,
    machine: dict[str, Any] | None,
    bits: dict[str, Any],
    **more: Any,
) -> Made:
    """Return a job without stages; sizes in mm."""
    stock = {
        "size": [f"{v} mm" for v in size],
        "zero": zero,
        "material": material,
        "spoilboard": "18 mm",
        "allow_into_spoilboard": "0.5 mm",
        **more.pop("stock", {}),
    }
    head: dict[str, Any] = {"title": name.replace("_", " "), "units": "mm", "stock": stock}
    if machine:
        head["machine"] = dict(machine)
    return Made(name, {**head, "bits": bits, "clamps": [], **more})


def clamp(x0: float, y0: float, x1: float, y1: float, height: float) -> dict[str, Any]:
    """Return a clamp; its box from the job's zero, mm."""
    return {
        "name": f"clamp at {x0:g}, {y0:g}",
        "box": {
            "min": [f"{x0} mm", f"{y0} mm"],
            "max": [f"{x1} mm", f"{y1} mm"],
            "height": f"{height} mm",
        },
    }


def levels(top: float, bottom: float, step: float) -> list[float]:
    """Return the depths of equal passes from top to bottom, none deeper than step."""
    count = math.ceil((top - bottom) / step - 1e-9)
    return [top + (bottom - top) * (k + 1) / count for k in range(count)]


def pocket(
    t: Tape,
    x0: float,
    y0: float,
    x1: float,
    y1: float,
    zs: list[float],
    d: float,
    over: float,
    feed: float,
    up: float,
    top: float = 0.0,
) -> None:
    """Clear a rectangle from the inside out, rings, entered on a ramp along the middle."""
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    rx, ry = (x1 - x0 - d) / 2, (y1 - y0 - d) / 2
    small = min(rx, ry)
    rings = max(1, math.ceil(small / over))
    long_x = rx >= ry
    half = abs(rx - ry)
    last = top
    for level, z in enumerate(zs):
        a = (cx - half, cy) if long_x else (cx, cy - half)
        b = (cx + half, cy) if long_x else (cx, cy + half)
        if level == 0:
            t.to("G0", x=a[0], y=a[1], name="pocket-start")
            t.to("G0", z=top + 1)
            t.to(z=top, f=feed / 3, name="pocket-touch")
        else:
            t.to(x=a[0], y=a[1], f=feed)
        t.to(x=b[0], y=b[1], z=(last + z) / 2, f=feed / 2, name=f"ramp-{level}")
        t.to(x=a[0], y=a[1], z=z, name=f"ramp-back-{level}")
        t.to(x=b[0], y=b[1], f=feed, name=f"middle-{level}")
        for k in range(1, rings + 1):
            s = small * k / rings
            w, h = (half + s, s) if long_x else (s, half + s)
            t.to(x=cx + w, y=cy - h, name=f"ring-{level}-{k}")
            t.to(y=cy + h)
            t.to(x=cx - w, name=f"side-{level}-{k}")
            t.to(y=cy - h)
            t.to(x=cx + w)
        last = z
    t.to("G0", z=up, name="pocket-up")


def ring(
    t: Tape,
    cx: float,
    cy: float,
    r: float,
    zs: list[float],
    feed: float,
    up: float,
    top: float = 0.0,
    tag: str = "ring",
) -> None:
    """Go down a helix, a turn for each depth, and once round at the bottom."""
    t.to("G0", x=cx + r, y=cy, name=f"{tag}-start")
    t.to("G0", z=top + 1.5)
    t.to(z=top, f=feed / 2)
    for k, z in enumerate(zs):
        t.to("G3", x=cx + r, y=cy, z=z, i=-r, j=0, f=feed, name=f"{tag}-{k}")
    t.to("G3", x=cx + r, y=cy, i=-r, j=0, name=f"{tag}-last")
    t.to("G0", z=up, name=f"{tag}-up")


def tabbed_box(
    t: Tape,
    x0: float,
    y0: float,
    x1: float,
    y1: float,
    zs: list[float],
    tab_z: float,
    tab: float,
    feed: float,
    up: float,
    top: float = 0.0,
    slope: float = 0.0,
) -> None:
    """Go round a box clockwise, down a ramp on each first side; two sides carry a tab each."""
    mx = (x0 + x1) / 2
    t.to("G0", x=x0, y=y0, name="box-start")
    t.to("G0", z=top + 2)
    t.to(z=top, f=feed / 2, name="box-touch")
    for k, z in enumerate(zs):
        t.to(x=x0, y=y1, z=z, f=feed / 2, name=f"box-ramp-{k}")
        for side, (ya, sign) in enumerate(((y1, 1), (y0, -1))):
            if z < tab_z:
                t.to(x=mx - sign * tab / 2, y=ya, f=feed)
                t.to(z=tab_z, name=f"tab-{k}-{side}")
                t.to(x=mx + sign * tab / 2, name=f"tab-over-{k}-{side}")
                down = mx + sign * (tab / 2 + slope)
                t.to(x=down, z=z, f=feed / 3, name=f"tab-down-{k}-{side}")
            t.to(x=x1 if sign > 0 else x0, y=ya, f=feed, name=f"box-side-{k}-{side}")
            last = side and k == len(zs) - 1
            t.to(
                x=x1 if sign > 0 else x0, y=y0 if sign > 0 else y1, name="box-close" if last else ""
            )
        t.to(x=x0, y=y0)
    t.to("G0", z=up, name="box-up")
