"""Mistakes by chance: clean jobs with one slip at a place drawn at random, and what is said of it.

    python tests/bench/chance_mistakes.py [SEED=1] [SET=heldout] [--show]

Every clean job of `tests/checks/heldout` (or `heldout3`) gets one slip of each kind in one of its
programs. Printed for each kind: how many were made, how many changed nothing (the blank comes out
the same to the cell and nothing is said: a plunge through air at the full feed, a missing lift
between moves of one place), how many of the others were told, and how many of these at the slip or
in the eight lines after it. `--show` prints those that were not.
"""

from __future__ import annotations

import importlib
import random
import re
import sys
import tempfile
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
import dryrun

WORD = re.compile(r"([A-Za-z])\s*([-+]?\d*\.?\d+)")
Slip = Callable[[random.Random, list[str]], int | None]
#: Lines after the slip at which its first effect counts as told in place.
AFTER = 8


def words(line: str) -> dict[str, float]:
    """Return the words of a line by letter; of several G words the last motion."""
    code = re.sub(r"\(.*?\)|;.*", "", line)
    return {letter.upper(): float(value) for letter, value in WORD.findall(code)}


def motions(lines: list[str]) -> list[tuple[float | None, float | None]]:
    """Return the motion code and the Z in force after each line."""
    code: float | None = None
    z: float | None = None
    out = []
    for line in lines:
        for letter, value in WORD.findall(re.sub(r"\(.*?\)|;.*", "", line)):
            if letter.upper() == "G" and float(value) in (0, 1, 2, 3, 73, 81, 82, 83):
                code = float(value)
        z = words(line).get("Z", z)
        out.append((code, z))
    return out


def set_word(line: str, letter: str, value: float) -> str:
    return re.sub(rf"(?i){letter}\s*[-+]?\d*\.?\d+", f"{letter}{value:g}", line, count=1)


def times(letter: str, factor: float, keep: Callable[[dict, tuple], bool]) -> Slip:
    """Make the slip that multiplies one word of a line that `keep` takes."""

    def slip(chance: random.Random, lines: list[str]) -> int | None:
        state = motions(lines)
        able = [k for k, x in enumerate(lines) if letter in words(x) and keep(words(x), state[k])]
        if not able:
            return None
        k = chance.choice(able)
        lines[k] = set_word(lines[k], letter, words(lines[k])[letter] * factor)
        return k

    return slip


def rewrite(pattern: str, new: str, from_line: int = 0) -> Slip:
    """Make the slip that rewrites the first match in a line drawn from those that match."""

    def slip(chance: random.Random, lines: list[str]) -> int | None:
        found = re.compile(pattern, re.IGNORECASE)
        able = [k for k, line in enumerate(lines) if k >= from_line and found.search(line)]
        if not able:
            return None
        k = chance.choice(able)
        lines[k] = found.sub(new, lines[k], count=1)
        return k

    return slip


def lift_lost(chance: random.Random, lines: list[str]) -> int | None:
    state = motions(lines)
    able = [
        k
        for k in range(8, len(lines) - 1)
        if state[k][0] == 0 and words(lines[k]).get("Z", -1) > 0 and (state[k - 1][1] or 0) < 0
        and {"X", "Y"} & set(words(lines[k + 1]))
    ]  # fmt: skip
    if not able:
        return None
    k = chance.choice(able)
    del lines[k]
    return k


SIDEWAYS = {"X", "Y"}
SLIPS: dict[str, Slip] = {
    "point lost in a Z": times("Z", 10, lambda w, s: s[0] != 0 and -9 < w["Z"] < 0),
    "sign of a rapid's Z": times("Z", -1, lambda w, s: s[0] == 0 and 0 < w["Z"] < 15),
    "sign of I": times("I", -1, lambda w, s: abs(w["I"]) > 0.01 and "R" not in w),
    "zero more in an X": times("X", 10, lambda w, s: abs(w["X"]) > 40),
    "zero lost in S": times("S", 0.1, lambda w, s: True),
    "zero more in S": times("S", 10, lambda w, s: True),
    "zero lost in F": times("F", 0.1, lambda w, s: bool(SIDEWAYS & set(w)) and s[0] in (1, 2, 3)),
    "zero more in F": times("F", 10, lambda w, s: bool(SIDEWAYS & set(w)) and s[0] in (1, 2, 3)),
    "G0 for G1": rewrite(r"^G0?1(?= [XY])", "G0", 5),
    "letter X lost": rewrite(r"X(?=[-+.\d])", "", 5),
    "number of an X lost": rewrite(r"X[-+.\d]+", "X", 5),
    "M3 lost": rewrite(r"\s*\bM0?3\b", ""),
    "S lost": rewrite(r"\bS\d+ ?", ""),
    "unit lost": rewrite(r"\bG2[01]\b ?", ""),
    "other unit": rewrite(r"\bG2(?=[01]\b)", "G2~"),
    "lift lost": lift_lost,
}


def run(files: dict[str, str]) -> dryrun.Outcome:
    with tempfile.TemporaryDirectory() as folder:
        for name, text in files.items():
            (Path(folder) / name).write_text(text, "utf-8", newline="")
        return dryrun.dry_run(dryrun.read_job(Path(folder) / "job.toml"))


def same_blank(one: dryrun.Outcome, other: dryrun.Outcome) -> bool:
    return np.array_equal(one.surface.height, other.surface.height, equal_nan=True)


def main(seed: int, name_of_set: str, show: bool) -> None:
    """Print the table."""
    chance = random.Random(seed)
    jobs = [
        make()
        for part in ("wood", "other")
        for make in getattr(
            importlib.import_module(f"tests.checks.{name_of_set}.jobs_{part}"), part.upper()
        )
    ]
    table: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    for work in jobs:
        clean = run(work.files)
        before = {(f.code, f.line, f.level) for f in clean.findings}
        for kind, slip in SLIPS.items():
            name = chance.choice([n for n in work.files if not n.endswith(".toml")])
            lines = work.files[name].splitlines()
            k = slip(chance, lines)
            if k is None:
                continue
            text = "\n".join(lines) + "\n"
            text = text.replace("G2~0", "G21").replace("G2~1", "G20")
            outcome = run({**work.files, name: text})
            told = [f for f in outcome.findings if (f.code, f.line, f.level) not in before]
            row = table[kind]
            row[0] += 1
            if not told and same_blank(clean, outcome):
                row[1] += 1
                continue
            here = [f for f in told if f.line is not None and k + 1 <= f.line <= k + 1 + AFTER]
            row[2] += bool(told)
            row[3] += bool(here)
            if show and not here:
                print(kind, work.name, name, k + 1, lines[k] if k < len(lines) else "")
                for f in told[:5]:
                    print(f"    {f.level} {f.code} {f.line}: {f.message[:110]}")
    print(f"{'slip':22s} made  no change  told  in place")
    for kind, (made, nothing, told_, in_place) in table.items():
        print(f"{kind:22s} {made:4d} {nothing:10d} {told_:5d} {in_place:9d}")
    sums = [sum(row[k] for row in table.values()) for k in range(4)]
    print(f"{'all':22s} {sums[0]:4d} {sums[1]:10d} {sums[2]:5d} {sums[3]:9d}")


if __name__ == "__main__":
    given = [a for a in sys.argv[1:] if not a.startswith("-")]
    named = given[1] if len(given) > 1 else "heldout"
    main(int(given[0]) if given else 1, named, "--show" in sys.argv)
