"""The machines and bits of the jobs: invented, of usual sizes."""

from __future__ import annotations

from typing import Any

Table = dict[str, Any]


def router(work_zero: list[str], **more: Any) -> Table:
    """A router of the middle size."""
    return {
        "name": "workshop router",
        "travel": [["0 mm", "900 mm"], ["0 mm", "640 mm"], ["-140 mm", "0 mm"]],
        "work_zero": work_zero,
        "park": ["2 mm", "630 mm", "-2 mm"],
        "max_rate": ["9000 mm/min", "9000 mm/min", "3000 mm/min"],
        "acceleration": ["500 mm/s2", "500 mm/s2", "250 mm/s2"],
        "corner_tolerance": "0.03 mm",
        "rapids": "straight",
        "safe_height": "3 mm",
        "holder": [
            {"diameter": "25 mm", "height": "18 mm"},
            {"diameter": "50 mm", "height": "40 mm"},
        ],
        "spindle": {"min": 6000, "max": 24000, "power": "1.5 kW", "start_seconds": 3},
        **more,
    }


def bench(work_zero: list[str]) -> Table:
    """A small one, declared in inches."""
    return {
        "name": "bench router",
        "travel": [["0 in", "16 in"], ["0 in", "14 in"], ["-4 in", "0 in"]],
        "work_zero": work_zero,
        "max_rate": ["180 in/min", "180 in/min", "70 in/min"],
        "acceleration": ["15 in/s2", "15 in/s2", "8 in/s2"],
        "corner_tolerance": "0.001 in",
        "safe_height": "0.1 in",
        "holder": [{"diameter": "0.8 in", "height": "0.7 in"}],
        "spindle": {"min": 10000, "max": 27000, "power": "800 W", "start_seconds": 2},
    }


def clamp(name: str, x0: float, y0: float, x1: float, y1: float, high: float) -> Table:
    return {
        "name": name,
        "box": {
            "min": [f"{x0:g} mm", f"{y0:g} mm"],
            "max": [f"{x1:g} mm", f"{y1:g} mm"],
            "height": f"{high:g} mm",
        },
    }


def flat(size: float, edge: float, out: float, shank: float = 0, **more: Any) -> Table:
    return {
        "shape": "flat",
        "diameter": f"{size:g} mm",
        "flutes": 2,
        "flute_length": f"{edge:g} mm",
        "shank": f"{shank or size:g} mm",
        "stickout": f"{out:g} mm",
        "centre_cutting": True,
        "max_rpm": 26000,
        "material": "carbide",
        **more,
    }


def ball(size: float, edge: float, out: float) -> Table:
    return {**flat(size, edge, out), "shape": "ball"}


def bull(size: float, corner: float, edge: float, out: float) -> Table:
    return {**flat(size, edge, out), "shape": "bull", "corner_radius": f"{corner:g} mm"}


def vee(angle: float, size: float, edge: float, out: float) -> Table:
    return {
        "shape": "vee",
        "angle": f"{angle:g} deg",
        "diameter": f"{size:g} mm",
        "flutes": 2,
        "flute_length": f"{edge:g} mm",
        "shank": "6 mm",
        "stickout": f"{out:g} mm",
        "max_rpm": 24000,
        "material": "carbide",
    }


def drill(size: float, edge: float, out: float, angle: float = 118, **more: Any) -> Table:
    return {
        "shape": "drill",
        "angle": f"{angle:g} deg",
        "diameter": f"{size:g} mm",
        "flutes": 2,
        "flute_length": f"{edge:g} mm",
        "shank": f"{size:g} mm",
        "stickout": f"{out:g} mm",
        "material": "carbide",
        **more,
    }
