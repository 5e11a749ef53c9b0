"""The map of heights as a file: arrays, a 16-bit picture, or a table.

All lengths are mm in the job frame. A picture cannot say what its grey means, so the scale stands
in its text (PNG, ISO/IEC 15948, 11.3.4.3 tEXt) and is printed.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np

from dryrun.removal.surface import Surface
from dryrun.report.html_pack import LEVELS_16, levels

HEIGHT_KINDS: Final = ("npz", "png", "csv")

#: A table is no place for more cells than this.
MOST_IN_TABLE: Final = 4_500_000


def write_heights(surface: Surface, path: Path, kind: str) -> str:
    """Write the map and say in words what the file holds.

    Raises
    ------
    ValueError
        When a table would be too long to be of use.
    """
    if kind == "npz":
        return _write_arrays(surface, path)
    if kind == "png":
        return _write_picture(surface, path)
    return _write_table(surface, path)


def _places(surface: Surface) -> tuple[np.ndarray, np.ndarray]:
    ny, nx = surface.shape
    return (
        surface.origin[0] + np.arange(nx) * surface.cell,
        surface.origin[1] + np.arange(ny) * surface.cell,
    )


def _write_arrays(surface: Surface, path: Path) -> str:
    x, y = _places(surface)
    with path.open("wb") as file:
        np.savez_compressed(
            file, height=surface.height, cut_by=surface.cut_by, x=x, y=y, cell=surface.cell,
            low=np.array(surface.low), high=np.array(surface.high),
        )  # fmt: skip
    return "height [iy, ix] float32 mm, cut_by, x, y, cell, low and high corner of the blank"


def _write_picture(surface: Surface, path: Path) -> str:
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    low = min(surface.lowest, surface.bed)
    step = (surface.top - low) / LEVELS_16
    grey = levels(surface.height, low, surface.top)[::-1].astype(np.uint16)
    x, y = _places(surface)
    words = (
        f"Z in mm = {low:.9g} + {step:.9g} * value (0 to 65535); cells of {surface.cell:g} mm; "
        f"first pixel is the centre X {x[0]:.9g}, Y {y[-1]:.9g}, rows run towards the front"
    )
    text = PngInfo()
    text.add_text("Description", words)
    Image.fromarray(grey).save(path, format="PNG", pnginfo=text)
    return words


def _write_table(surface: Surface, path: Path) -> str:
    ny, nx = surface.shape
    if ny * nx > MOST_IN_TABLE:
        raise ValueError(
            f"a table of {nx} x {ny} heights is too long; take a larger --cell, or .npz or .png"
        )
    x, y = _places(surface)
    with path.open("w", encoding="ascii", newline="\n") as file:
        file.write("Y \\ X mm," + ",".join(f"{v:.9g}" for v in x) + "\n")
        for place, row in zip(y, surface.height, strict=True):
            file.write(f"{place:.9g}," + ",".join(f"{v:.4f}" for v in row.tolist()) + "\n")
    return "heights in mm; columns are X, rows are Y from front to back"
