"""Machines and bits that the jobs share."""

from __future__ import annotations

from typing import Any


def bench(work_zero: list[str], **more: Any) -> dict[str, Any]:
    """A benchtop router of 620 x 420 mm, Z 0 at the top of its travel."""
    return {
        "name": "bench router",
        "travel": [["0 mm", "620 mm"], ["0 mm", "420 mm"], ["-95 mm", "0 mm"]],
        "work_zero": work_zero,
        "park": ["5 mm", "410 mm", "-2 mm"],
        "max_rate": ["6000 mm/min", "6000 mm/min", "2500 mm/min"],
        "acceleration": ["500 mm/s2", "500 mm/s2", "250 mm/s2"],
        "rapids": "straight",
        "safe_height": "3 mm",
        "holder": [
            {"diameter": "20 mm", "height": "17 mm"},
            {"diameter": "43 mm", "height": "40 mm"},
        ],
        "spindle": {
            "min": "8000 rpm",
            "max": "24000 rpm",
            "power": "900 W",
            "start_seconds": "4 s",
        },
        **more,
    }


def small(**more: Any) -> dict[str, Any]:
    """A little router of which only the usual is known."""
    return {
        "name": "little router",
        "max_rate": ["4000 mm/min", "4000 mm/min", "1500 mm/min"],
        "acceleration": ["300 mm/s2", "300 mm/s2", "150 mm/s2"],
        "safe_height": "2 mm",
        "spindle": {"min": "6000 rpm", "max": "26000 rpm", "power": "500 W"},
        **more,
    }


def inch(work_zero: list[str], **more: Any) -> dict[str, Any]:
    """A router told in inches, zero of its travel at the front left."""
    return {
        "name": "garage router",
        "travel": [["0 in", "31 in"], ["0 in", "17 in"], ["-3.5 in", "0 in"]],
        "work_zero": work_zero,
        "max_rate": ["250 in/min", "250 in/min", "100 in/min"],
        "acceleration": ["20 in/s2", "20 in/s2", "10 in/s2"],
        "safe_height": "0.1 in",
        "spindle": {
            "min": "10000 rpm",
            "max": "27000 rpm",
            "power": "900 W",
            "start_seconds": "3 s",
        },
        **more,
    }


def flat(dia: str, flutes: int, long: str, out: str, shank: str, **more: Any) -> dict[str, Any]:
    return {
        "shape": "flat",
        "diameter": dia,
        "flutes": flutes,
        "flute_length": long,
        "stickout": out,
        "shank": shank,
        "centre_cutting": True,
        **more,
    }


BITS: dict[str, dict[str, Any]] = {
    "flat-12": flat("12 mm", 2, "30 mm", "38 mm", "8 mm", max_rpm="20000 rpm"),
    "flat-8": flat("8 mm", 2, "28 mm", "36 mm", "8 mm", max_rpm="24000 rpm"),
    "flat-6": flat("6 mm", 2, "22 mm", "32 mm", "6 mm", max_rpm="28000 rpm"),
    "flat-4": flat("4 mm", 2, "15 mm", "26 mm", "4 mm"),
    "flat-3": flat("3 mm", 2, "12 mm", "22 mm", "3 mm"),
    "flat-2": flat("2 mm", 2, "8 mm", "18 mm", "3 mm"),
    "one-6": flat("6 mm", 1, "20 mm", "30 mm", "6 mm", helix="up"),
    "one-3": flat("3 mm", 1, "10 mm", "20 mm", "3 mm", helix="up"),
    "alu-6": flat("6 mm", 3, "16 mm", "26 mm", "6 mm", material="carbide"),
    "alu-2": flat("2 mm", 2, "6 mm", "16 mm", "3 mm", material="carbide"),
    "quarter": flat("1/4 in", 2, "7/8 in", "1.25 in", "1/4 in"),
    "eighth": flat("1/8 in", 2, "0.5 in", "0.9 in", "1/8 in"),
    "ball-6": {
        "shape": "ball",
        "diameter": "6 mm",
        "flutes": 2,
        "flute_length": "22 mm",
        "shank": "6 mm",
        "stickout": "34 mm",
    },
    "ball-8": {
        "shape": "ball",
        "diameter": "8 mm",
        "flutes": 2,
        "flute_length": "25 mm",
        "shank": "8 mm",
        "stickout": "38 mm",
    },
    "vee-90": {
        "shape": "vee",
        "diameter": "12 mm",
        "angle": "90 deg",
        "flutes": 2,
        "flute_length": "6 mm",
        "shank": "6 mm",
        "stickout": "28 mm",
    },
    "vee-60": {
        "shape": "vee",
        "diameter": "8 mm",
        "angle": "60 deg",
        "flutes": 2,
        "flute_length": "7 mm",
        "shank": "6 mm",
        "stickout": "28 mm",
    },
    "tapered": {
        "shape": "taper-ball",
        "diameter": "5 mm",
        "tip_radius": "0.75 mm",
        "angle": "7 deg",
        "flutes": 2,
        "flute_length": "16 mm",
        "shank": "6 mm",
        "stickout": "32 mm",
    },
    "drill-5": {
        "shape": "drill",
        "diameter": "5 mm",
        "angle": "118 deg",
        "flutes": 2,
        "flute_length": "40 mm",
        "shank": "5 mm",
        "stickout": "48 mm",
    },
    "drill-4": {
        "shape": "drill",
        "diameter": "4.2 mm",
        "angle": "118 deg",
        "flutes": 2,
        "flute_length": "35 mm",
        "shank": "4.2 mm",
        "stickout": "44 mm",
    },
}


def rack(*names: str) -> dict[str, Any]:
    return {name: BITS[name] for name in names}


def clamp(
    name: str, low: tuple[float, float], high: tuple[float, float], up: float
) -> dict[str, Any]:
    """A clamp in the job frame, mm."""
    return {
        "name": name,
        "box": {
            "min": [f"{low[0]:g} mm", f"{low[1]:g} mm"],
            "max": [f"{high[0]:g} mm", f"{high[1]:g} mm"],
            "height": f"{up:g} mm",
        },
    }
