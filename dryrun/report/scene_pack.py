"""A scene as bytes and back, for the process that renders a picture: arrays and JSON, no code."""

from __future__ import annotations

import io
import json
from typing import Any

import numpy as np

from dryrun.report.html_path import Rows
from dryrun.report.scene import SceneData

_ROWS = ("line", "source", "stage", "seconds")
_PATHS = ("place", "row", "kind")


def packed(data: SceneData) -> bytes:
    """Write a still scene; its moments are left out."""
    arrays: dict[str, Any] = {"heights": data.heights, "cut_by": data.cut_by}
    arrays |= {f"rows-{name}": getattr(data.rows, name) for name in _ROWS}
    for n, (_, *path) in enumerate(data.paths):
        arrays |= {f"path-{n}-{name}": array for name, array in zip(_PATHS, path, strict=True)}
    said = {
        "title": data.title, "units": data.units, "cell": data.cell, "low": data.low,
        "high": data.high, "deepest": data.deepest, "clamps": data.clamps, "flags": data.flags,
        "names": [name for name, *_ in data.paths], "group": data.rows.group,
        "sources": data.rows.sources,
    }  # fmt: skip
    text = np.frombuffer(json.dumps(said).encode(), np.uint8)
    out = io.BytesIO()
    np.savez(out, said=text, **arrays)
    return out.getvalue()


def unpacked(given: bytes) -> SceneData:
    """Read a scene that `packed` wrote."""
    with np.load(io.BytesIO(given), allow_pickle=False) as arrays:
        said = json.loads(arrays["said"].tobytes())
        rows = {name: arrays[f"rows-{name}"] for name in _ROWS}
        return SceneData(
            title=said["title"],
            units=said["units"],
            heights=arrays["heights"],
            cut_by=arrays["cut_by"],
            cell=said["cell"],
            low=_tuples(said["low"]),
            high=_tuples(said["high"]),
            deepest=said["deepest"],
            clamps=_tuples(said["clamps"]),
            paths=tuple(
                (name, *(arrays[f"path-{n}-{part}"] for part in _PATHS))
                for n, name in enumerate(said["names"])
            ),
            flags=_tuples(said["flags"]),
            moments=None,
            rows=Rows(group=said["group"], sources=_tuples(said["sources"]), **rows),
        )


def _tuples(value: Any) -> Any:
    return tuple(_tuples(v) for v in value) if isinstance(value, list) else value
