"""The JSON Schema of the files, made from the table that reading uses."""

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from dryrun.job.reading import check_table
from dryrun.job.schema import SCHEMAS, json_schema

FIXTURES = Path(__file__).parents[2] / "fixtures"
FILES = [
    ("trivet/job.toml", "job"),
    ("trivet/machine.toml", "machine"),
    ("trivet/bits.toml", "bits"),
    ("trivet-mistakes/job.toml", "job"),
    ("coaster-inch/job.toml", "job"),
]


def errors(raw, which):
    return list(jsonschema.Draft202012Validator(json_schema(which)).iter_errors(raw))


@pytest.mark.parametrize("which", SCHEMAS)
def test_is_a_valid_schema(which):
    """Be a valid schema by the 2020-12 meta-schema, and plain JSON."""
    schema = json_schema(which)

    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema == json.loads(json.dumps(schema))


@pytest.mark.parametrize(("name", "which"), FILES)
def test_the_demonstration_files_fit(name, which):
    """Accept the files that are read without a fault."""
    raw = tomllib.loads((FIXTURES / name).read_text(encoding="utf-8"))

    assert errors(raw, which) == []
    assert check_table(raw, SCHEMAS[which]) == []


MINIMAL = {"units": "mm", "stages": [{"program": "a.nc"}]}


def changed(**changes):
    return {**MINIMAL, **changes}


@pytest.mark.parametrize(
    "raw",
    [
        changed(bogus=1),
        changed(units="cm"),
        changed(title=3),
        changed(title=""),
        {"units": "mm"},
        changed(stages=[]),
        changed(stages={"program": "a.nc"}),
        changed(stages=[{"name": "a"}]),
        changed(stages=[{"program": "a.nc", "depth": "deep"}]),
        changed(stages=[{"program": "a.nc", "depth": True}]),
        changed(stages=[{"program": "a.nc", "depth": 0}]),
        changed(stages=[{"program": "a.nc", "depth": "-3 mm"}]),
        changed(stages=[{"program": "a.nc", "offsets": {"G53": [0, 0, 0]}}]),
        changed(stock={"zero": "centre-top"}),
        changed(stock={"size": [1, 2], "zero": "centre-top"}),
        changed(stock={"size": [1, 2, "x"], "zero": "centre-top"}),
        changed(machine={"rapids": "curved"}),
        changed(machine={"look_ahead": 1.5}),
        changed(machine={"look_ahead": 0}),
        changed(machine={"lines_per_second": 0}),
        changed(machine={"travel": [1, 2, [3]]}),
        changed(machine={"holder": [{"diameter": 3}]}),
        changed(clamps=[{"name": "x"}]),
        changed(bits={"flat": {"diameter": 3}}),
        changed(bits={"flat": {"shape": "square", "diameter": 3}}),
        changed(bits={"flat": {"shape": "flat", "diameter": 3, "flutes": 2.5}}),
        changed(bits={"flat": {"shape": "flat", "diameter": 3, "centre_cutting": "yes"}}),
        changed(bits={"-flat": {"shape": "flat", "diameter": 3}}),
        changed(allow=[{"code": "rapid-low"}]),
        changed(allow=[{"code": "Rapid Low", "reason": "x"}]),
        changed(allow=[{"code": "rapid-low", "reason": "x", "lines": [1, 2, 3]}]),
    ],
)
def test_schema_and_reading_refuse_the_same(raw):
    """Refuse in an editor what reading refuses for its form."""
    assert errors(raw, "job")
    assert check_table(raw, SCHEMAS["job"])


@pytest.mark.parametrize(
    "raw",
    [
        MINIMAL,
        changed(stages=[{"program": "a.nc", "depth": "through"}]),
        changed(stages=[{"program": "a.nc", "depth": ".5 in"}]),
        changed(stages=[{"program": "a.nc", "offsets": {"G59.1": [1, "-2 mm", 0]}}]),
        changed(machine={"travel": [600, "400 mm", [-80, 0]], "lines_per_second": 200}),
        changed(clamps=[]),
        changed(
            bits={"file": "bits.toml", "big vee": {"shape": "vee", "diameter": 3, "angle": 90}}
        ),
        changed(allow=[{"code": "rapid-low", "reason": "x", "stage": 1, "lines": 7}]),
        changed(allow=[{"code": "rapid-low", "reason": "x", "stage": "cut out", "lines": [1, 2]}]),
    ],
)
def test_schema_and_reading_accept_the_same(raw):
    """Accept in an editor what reading accepts."""
    assert errors(raw, "job") == []
    assert check_table(raw, SCHEMAS["job"]) == []
