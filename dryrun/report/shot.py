"""Render one picture of a scene and end: `python -m dryrun.report.shot FILE < scene`.

A process of its own, because a missing OpenGL driver ends the process that asks for it.
"""

from __future__ import annotations

import pickle
import sys


def main() -> None:
    """Read a scene that the same version of dryrun wrote, and render it."""
    from dryrun.report.scene import Scene

    scene = Scene(pickle.load(sys.stdin.buffer), off_screen=True)
    scene.plotter.screenshot(sys.argv[1])
    scene.plotter.close()


if __name__ == "__main__":
    main()
