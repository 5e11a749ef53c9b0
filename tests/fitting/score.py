"""Score the ranking on generated programs: who comes first, and do the probabilities hold.

    python tests/fitting/score.py [FIRST [COUNT [GENERATOR]]]

prints each miss, which bit was taken for which, the scores of each family, the reliability of the
probabilities, and the Brier score (sum over the rack of squared differences; 0.875 for eight bits
equally likely). Run it with the root of the tree on PYTHONPATH, else another dryrun that is
installed is scored.
"""

from __future__ import annotations

import importlib.util
import itertools
import sys
import time
from collections import Counter, defaultdict
from pathlib import Path
from types import ModuleType

import numpy as np

import dryrun
from dryrun.fitting.ranking import fit_bits
from dryrun.gcode.program import read_program

BANDS = (0.0, 0.4, 0.6, 0.8, 0.9, 0.97, 1.01)


def load(name: str) -> ModuleType:
    """Load a generator that stands beside this file."""
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


def main(first: int = 0, count: int = 200, generator: str = "generator") -> None:
    """Rank the bits for programs of consecutive seeds and print the scores."""
    print("scored:", Path(dryrun.__file__).parent)
    make = load(generator).make
    places, chances, families = [], [], defaultdict(list)
    taken: Counter[tuple[str, str, str]] = Counter()
    spent = 0.0
    for seed in range(first, first + count):
        made = make(seed)
        program = read_program(made.text)
        unit = "in" if program.state.modal["units"] == "G20" else "mm"
        began = time.perf_counter()
        ranking = fit_bits(program.motion, made.rack, unit=unit)
        spent += time.perf_counter() - began
        names = [c.bit.name for c in ranking.candidates]
        places.append(names.index(made.bit.name))
        families[made.family, made.bit.shape].append(places[-1])
        chances.append([c.probability for c in ranking.candidates])
        if places[-1]:
            taken[made.family, made.bit.name, names[0]] += 1
            print(seed, made.family, made.bit.name, names[:3], np.round(chances[-1][:3], 2))
    for (family, true, other), often in taken.most_common():
        print(f"{often:3d} x {family}: {true} taken for {other}")
    for family, got in sorted(families.items()):
        print(f"{family[0]:16s} {family[1]:11s} {line(np.array(got))}")
    report(np.array(places), chances)
    print(f"{1000 * spent / count:.0f} ms each")


def line(places: np.ndarray) -> str:
    """Write how often the right bit is first, and among the first two."""
    first, two = (places == 0).mean(), (places < 2).mean()
    return f"n={len(places):3d}  first {first:.3f}  first two {two:.3f}"


def report(places: np.ndarray, chances: list[list[float]]) -> None:
    """Print the scores of all, and how often the first was right in bands of its probability."""
    top = np.array([c[0] for c in chances])
    for low, high in itertools.pairwise(BANDS):
        band = (top >= low) & (top < high)
        if band.any():
            right = (places[band] == 0).mean()
            print(f"said {top[band].mean():.3f}  right {right:.3f}  (n={band.sum()})")
    brier = np.mean(
        [
            sum((p - (i == place)) ** 2 for i, p in enumerate(c))
            for c, place in zip(chances, places, strict=True)
        ]
    )
    print(f"all: {line(places)}  Brier {brier:.3f}")


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:3]), *sys.argv[3:4])
