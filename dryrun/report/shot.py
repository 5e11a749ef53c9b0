"""Render one picture of a scene and end: a process that `report.scene.shot` starts.

A process of its own, because a missing OpenGL driver ends the process that asks for it.
"""

from __future__ import annotations

import sys


def main() -> None:
    """Read a scene from standard input, and render it to the file named."""
    from dryrun.report.scene import Scene
    from dryrun.report.scene_pack import unpacked

    scene = Scene(unpacked(sys.stdin.buffer.read()), off_screen=True)
    scene.plotter.screenshot(sys.argv[1])
    scene.plotter.close()
