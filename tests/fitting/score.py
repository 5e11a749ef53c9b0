"""Score the ranking on generated programs: who is first, and do the probabilities hold.

    python tests/fitting/score.py [FIRST [COUNT [GENERATOR]]]
"""

from __future__ import annotations

import importlib.util
import sys
import time
from collections import defaultdict
from pathlib import Path

import numpy as np

from dryrun.fitting.ranking import fit_bits
from dryrun.gcode.program import read_program


def load(name: str):
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


def main(first: int = 0, count: int = 200, generator: str = "generator", say: bool = True):
    make = load(generator).make
    places, chances, wrong, families = [], [], [], defaultdict(list)
    spent = 0.0
    for seed in range(first, first + count):
        made = make(seed)
        program = read_program(made.text)
        unit = "in" if program.state.modal["units"] == "G20" else "mm"
        began = time.perf_counter()
        ranking = fit_bits(program.motion, made.rack, unit=unit)
        spent += time.perf_counter() - began
        names = [c.bit.name for c in ranking.candidates]
        place = names.index(made.bit.name)
        places.append(place)
        families[(made.family, made.bit.shape)].append(place)
        chances.append([c.probability for c in ranking.candidates])
        if place:
            wrong.append((seed, made.family, made.bit.name, names[:3], np.round(chances[-1][:3], 2)))
    places = np.array(places)
    top = np.array([c[0] for c in chances])
    right = places == 0
    brier = np.mean([sum((p - (i == k)) ** 2 for i, p in enumerate(c))
                     for c, k in zip(chances, places)])
    if say:
        for w in wrong:
            print(*w)
        for key, got in sorted(families.items()):
            got = np.array(got)
            print(f"{key!s:32s} n={len(got):3d} first {np.mean(got == 0):.3f} two {np.mean(got < 2):.3f}")
        for low, high in ((0, .4), (.4, .6), (.6, .8), (.8, .9), (.9, .97), (.97, 1.01)):
            m = (top >= low) & (top < high)
            if m.any():
                print(f"said {low:.2f}-{high:.2f}: n={m.sum():3d} mean {top[m].mean():.3f} right {right[m].mean():.3f}")
    logloss = -np.mean([np.log(max(c[k], 1e-9)) for c, k in zip(chances, places)])
    print(f"first {right.mean():.3f}  first two {(places < 2).mean():.3f}  Brier {brier:.3f} logloss {logloss:.3f} "
          f"ms each {1000 * spent / count:.1f}")


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:3]), *sys.argv[3:4])
