"""The catalogue: what each code means, read from `catalogue.toml` beside this file."""

from __future__ import annotations

import difflib
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Final

from dryrun.finding import LEVELS, Level

FAMILIES: Final = (
    "program",
    "depth",
    "rapids",
    "collisions",
    "travel",
    "bits and stages",
    "feeds",
)

#: Codes a comment inside a program may never silence; only the person's job file can.
ONLY_IN_JOB_FILE: Final = frozenset(
    {"rapid-in-stock", "clamp-hit", "holder-hit", "bed-hit", "through-cut", "beyond-travel"}
)


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: the headings of `explain`, as plain sentences."""

    code: str
    family: str
    level: Level
    title: str
    checks: str
    why: str
    do: str
    rests: str
    limits: str


@cache
def catalogue() -> dict[str, Entry]:
    """Return all entries by code, in the order of the file."""
    text = resources.files("dryrun.checks").joinpath("catalogue.toml").read_text("utf-8")
    entries = {code: Entry(code=code, **fields) for code, fields in tomllib.loads(text).items()}
    for entry in entries.values():
        if entry.family not in FAMILIES or entry.level not in LEVELS:
            raise ValueError(f"catalogue entry {entry.code} has an unknown family or level")
    return entries


def nearest_code(code: str) -> str | None:
    """Return the code most like a misspelt one, or None."""
    found = difflib.get_close_matches(code, list(catalogue()), n=1)
    return found[0] if found else None
