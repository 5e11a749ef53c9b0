"""The table of keys against the records it feeds."""

from dataclasses import fields

import pytest

from dryrun.job import keys
from dryrun.job.keys import Key, Several, Table
from dryrun.job.model import Bit, Clamp, Machine, Spindle, Stage, Stock


@pytest.mark.parametrize(
    ("record", "table", "made_otherwise"),
    [
        (Machine, keys.MACHINE, {"declared"}),
        (Bit, keys.BIT, {"name"}),
        (Stage, keys.STAGE, {"text"}),
        (Stock, keys.STOCK, set()),
        (Spindle, keys.MACHINE.keys["spindle"].value, set()),
        (Clamp, keys.CLAMP, {"low", "high", "height"}),
    ],
)
def test_every_field_of_the_model_can_be_declared(record, table, made_otherwise):
    """Have a key for every field, so that a field added to the model is not forgotten here."""
    names = {field.name for field in fields(record)} - made_otherwise

    assert names <= set(table.keys)


def every_key(table, path=""):
    for name, key in table.keys.items():
        yield f"{path}{name}", key
        inner = key.value.item if isinstance(key.value, Several) else key.value
        if isinstance(inner, Table):
            yield from every_key(inner, f"{path}{name}.")


@pytest.mark.parametrize("table", [keys.JOB, keys.MACHINE_FILE, keys.BITS_FILE])
def test_every_key_is_explained(table):
    """Explain every key in one sentence that ends with a full stop."""
    for path, key in every_key(table):
        assert isinstance(key, Key)
        assert key.says.endswith("."), path
        assert len(key.says) < 100, path
