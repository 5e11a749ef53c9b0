"""Materials: usual chip loads, cutting energies, speeds and ramps, with where each comes from."""

from __future__ import annotations

import math
import re
import tomllib
from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any


@dataclass(frozen=True, slots=True)
class Range:
    """A usual range, and its source: published, "common practice, no source", or "from memory"."""

    low: float
    high: float
    source: str

    @property
    def middle(self) -> float:
        """Middle of the range."""
        return (self.low + self.high) / 2


@dataclass(frozen=True, slots=True)
class ChipLoads:
    """Usual feed for each cutting edge, by bit diameter.

    Attributes
    ----------
    rows : ((diameter, low, high), ...) mm, rising
    source : str
    """

    rows: tuple[tuple[float, float, float], ...]
    source: str

    def at(self, diameter: float) -> Range:
        """Return the range for a bit diameter in mm.

        Straight between the rows of the table; below the first in proportion to the diameter,
        beyond the last as in the last, and the source then says so.

        Raises
        ------
        ValueError
            If the diameter is not above 0.
        """
        if not diameter > 0:
            raise ValueError(f"diameter {diameter} mm is not above 0")
        rows = self.rows
        first, last = rows[0], rows[-1]
        if diameter < first[0]:
            share = diameter / first[0]
            beyond = f"{self.source}; in proportion below {first[0]:g} mm"
            return Range(first[1] * share, first[2] * share, beyond)
        if diameter > last[0]:
            return Range(last[1], last[2], f"{self.source}; as for {last[0]:g} mm")
        upper = max(1, bisect_left([row[0] for row in rows], diameter))
        below, above = rows[upper - 1], rows[upper]
        share = (diameter - below[0]) / (above[0] - below[0])
        low = below[1] + share * (above[1] - below[1])
        return Range(low, below[2] + share * (above[2] - below[2]), self.source)


@dataclass(frozen=True, slots=True)
class Material:
    """What is usual in one family of materials; None where no figure is at hand.

    Attributes
    ----------
    name : str
        Of the family, e.g. "hardwood".
    names : tuple of str
        Words by which a blank of it is known.
    chip_load : ChipLoads or None
        mm for each cutting edge.
    cutting_energy, across_grain : Range or None
        N/mm2 (the same as J/cm3); of wood along the grain, and across it.
    surface_speed : Range or None
        m/s.
    ramp_angle : Range or None
        rad.
    """

    name: str
    names: tuple[str, ...]
    chip_load: ChipLoads | None = None
    cutting_energy: Range | None = None
    across_grain: Range | None = None
    surface_speed: Range | None = None
    ramp_angle: Range | None = None


@cache
def known_materials() -> tuple[Material, ...]:
    """Return the table, panels before species."""
    text = files("dryrun.job").joinpath("data/materials.toml").read_text(encoding="utf-8")
    return tuple(_material(name, table) for name, table in tomllib.loads(text).items())


def find_material(text: str) -> Material | None:
    """Return the family that a blank's material belongs to, or None when it is not known.

    Examples
    --------
    >>> find_material("birch plywood").name, find_material("European beech").name
    ('plywood', 'hardwood')
    >>> find_material("slate") is None
    True
    """
    words = " ".join(re.findall(r"[^\W\d_]+", text.lower()))
    for material in known_materials():
        names = (*material.names, material.name.replace("-", " "))
        if any(re.search(rf"\b{re.escape(name)}\b", words) for name in names):
            return material
    return None


def _material(name: str, table: Mapping[str, Any]) -> Material:
    chips = table.get("chip_load")
    ramp = _range(table.get("ramp_angle"))
    return Material(
        name=name,
        names=tuple(table["names"]),
        chip_load=ChipLoads(
            tuple((float(row[0]), float(row[1]), float(row[2])) for row in chips["rows"]),
            chips["source"],
        )
        if chips
        else None,
        cutting_energy=_range(table.get("cutting_energy")),
        across_grain=_range(table.get("across_grain")),
        surface_speed=_range(table.get("surface_speed")),
        ramp_angle=Range(math.radians(ramp.low), math.radians(ramp.high), ramp.source)
        if ramp
        else None,
    )


def _range(table: Mapping[str, Any] | None) -> Range | None:
    if table is None:
        return None
    return Range(float(table["low"]), float(table["high"]), table["source"])
