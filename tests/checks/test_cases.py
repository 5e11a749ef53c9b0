"""Every check tested both ways: a program that must trigger it, a near miss that must not."""

from __future__ import annotations

import json
import os
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

import dryrun
from dryrun.checks.catalogue import catalogue
from dryrun.checks.registry import CHECKS, READER_CODES
from dryrun.gcode.controller import known_names

HEAD = "G21 G90 G17\nS18000 M3\nG94"
TAIL = "M5\nG0 Z20\nM30"

STOCK = {
    "size": ["100 mm", "100 mm", "18 mm"],
    "zero": "front-left-top",
    "material": "beech",
    "spoilboard": "12 mm",
    "allow_into_spoilboard": "0.3 mm",
}
MACHINE: dict[str, Any] = {"safe_height": "2 mm"}
BIT = {
    "shape": "flat",
    "diameter": "6 mm",
    "flutes": 2,
    "flute_length": "22 mm",
    "shank": "6 mm",
    "stickout": "30 mm",
    "centre_cutting": True,
}
STAGE = {"name": "only stage", "program": "part.nc", "bit": "the-bit", "depth": "4 mm"}

#: The field's cells in mm. Wider ones without the compiler: what a case asks does not hang on them.
CELL = 0.5 if os.environ.get("NUMBA_DISABLE_JIT") == "1" else 0.25

CASES = tomllib.loads((Path(__file__).parent / "cases.toml").read_text("utf-8"))["case"]


def inline(value: Any) -> str:
    """Write a TOML value on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {inline(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(inline, value)) + "]"
    return json.dumps(value)


def write_job(folder: Path, case: dict[str, Any]) -> Path:
    """Write a case's job and program to a folder."""
    head, tail = case.get("head", HEAD), case.get("tail", TAIL)
    (folder / "part.nc").write_text(f"{head}\n{case['program'].strip()}\n{tail}", "utf-8")
    parts = {
        "stock": STOCK | case.get("stock", {}),
        "machine": MACHINE | case.get("machine", {}),
        "bits": {"the-bit": case.get("bit", BIT)} | case.get("rack", {}),
        "clamps": case.get("clamps", []),
        "stages": [STAGE | case.get("stage", {})],
        "allow": case.get("allow", []),
    }
    text = 'title = "case"\nunits = "mm"\n'
    text += "".join(f"{name} = {inline(value)}\n" for name, value in parts.items())
    (folder / "job.toml").write_text(text, "utf-8")
    return folder / "job.toml"


@pytest.mark.parametrize(
    "case",
    [pytest.param(c, marks=pytest.mark.jit_only) if c.get("jit_only") else c for c in CASES],
    ids=[c["name"] for c in CASES],
)
def test_case(case: dict[str, Any], tmp_path: Path) -> None:
    """Each case gives the findings it names, at their lines, and none of those it excludes."""
    outcome = dryrun.dry_run(dryrun.read_job(write_job(tmp_path, case)), cell=CELL)

    got = [(f.code, f.line or 0, f.level) for f in outcome.findings]
    for wanted in case.get("find", []):
        assert any(g[: len(wanted)] == tuple(wanted) for g in got), (wanted, got)
    for code in case.get("absent", []):
        assert code not in [g[0] for g in got], (code, got)
    messages = [f.message for f in outcome.findings]
    for words in case.get("says", []):
        assert any(words in message for message in messages), (words, messages)
    not_run = {gap.code for gap in outcome.not_run}
    assert not_run >= set(case.get("not_run", [])), not_run
    assert not_run.isdisjoint(case.get("runs", [])), not_run
    for words in case.get("never", []):
        assert not any(words in message for message in messages), (words, messages)


def test_every_code_has_a_case_both_ways() -> None:
    """No check is in the catalogue without a case that triggers it."""
    triggered = {w[0] for case in CASES for w in case.get("find", [])}
    excluded = {code for case in CASES for code in case.get("absent", [])}
    made = {code for check in CHECKS for code in check.codes}

    # Those that take more than one stage: test_stages.py.
    elsewhere = {"body-low", "stage-order", "not-cleared", "stage-shifted"}
    assert made - triggered == elsewhere
    assert made - excluded == elsewhere


def test_catalogue_and_registry_agree() -> None:
    """Every code a check or the reader can give is explained, and nothing else is."""
    made = {code for check in CHECKS for code in check.codes} | set(READER_CODES)

    assert made | {"idle-allowance", "broken-off"} == set(catalogue())


def test_capabilities_the_catalogue_advises_exist() -> None:
    """Who follows the advice of an entry writes a list that is accepted."""
    known = set(known_names())
    named = set()
    for entry in catalogue().values():
        for text in (entry.checks, entry.why, entry.do, entry.rests, entry.limits):
            for listed in re.findall(r"accepts = \[([^\]]*)\]", text):
                named |= set(re.findall(r'"([^"]+)"', listed))
            named |= set(re.findall(r"`accepts` has `([^`]+)`", text))

    assert {"absolute-centres", "dwell-by-other-words"} <= named
    assert named <= known
