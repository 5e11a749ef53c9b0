"""JSON Schema of the job, machine and bits files, made from the table that reading uses.

It is for editors: completion, the meaning of a key, a mark under a wrong type. Reading a file finds
more than a schema can say (ranges of quantities with units, geometry, files that are not there).
"""

from __future__ import annotations

from typing import Any, Final

from dryrun.job.keys import (
    BITS_FILE,
    JOB,
    LONGEST_TEXT,
    MACHINE_FILE,
    Either,
    Flag,
    Integer,
    Key,
    Number,
    Quantity,
    Several,
    Table,
    Text,
    Value,
)
from dryrun.units import EXAMPLES, FACTORS

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"

#: The files a schema can be made for, and their tables of keys.
SCHEMAS: Final[dict[str, Table]] = {"job": JOB, "machine": MACHINE_FILE, "bits": BITS_FILE}


def json_schema(which: str = "job") -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the "job", "machine" or "bits" file.

    Raises
    ------
    KeyError
        For any other name.
    """
    table = SCHEMAS[which]
    return {"$schema": DIALECT, "title": f"dryrun {which} file", **_table(table)}


def _value(value: Value) -> dict[str, Any]:
    match value:
        case Quantity():
            return _quantity(value)
        case Integer():
            return {"type": "integer", "minimum": value.low, "maximum": value.high}
        case Number():
            low = "exclusiveMinimum" if value.above else "minimum"
            return {"type": "number", low: value.low, "maximum": value.high}
        case Text():
            return _text(value)
        case Flag():
            return {"type": "boolean"}
        case Several():
            return {
                "type": "array",
                "items": _value(value.item),
                "minItems": value.least,
                "maxItems": value.most,
            }
        case Either():
            return {"anyOf": [_value(way) for way in value.ways]}
        case Table():
            return _table(value)


def _quantity(value: Quantity) -> dict[str, Any]:
    """Text with a number first, or a bare number; its range depends on the unit."""
    sign = r"[+\-−]?" if value.low < 0 else r"\+?"
    written = rf"^\s*{sign}\s*[0-9.]"
    if value.words:
        written += "".join(rf"|^\s*{word}\s*$" for word in value.words)
    text = {
        "type": "string",
        "pattern": written,
        "description": f"{EXAMPLES[value.kind]}; units: {', '.join(FACTORS[value.kind])}",
    }
    bare: dict[str, Any] = {"type": "number"}
    if value.low == 0:
        bare["exclusiveMinimum" if value.above else "minimum"] = 0
    return {"anyOf": [text, bare]}


def _text(value: Text) -> dict[str, Any]:
    if value.choices:
        return {"enum": list(value.choices)}
    made: dict[str, Any] = {"type": "string", "minLength": 1, "maxLength": LONGEST_TEXT}
    if value.pattern:
        made["pattern"] = value.pattern
    return made


def _table(table: Table) -> dict[str, Any]:
    made: dict[str, Any] = {
        "type": "object",
        "description": table.says,
        "properties": {name: _key(key) for name, key in table.keys.items()},
        "additionalProperties": False,
    }
    required = [name for name, key in table.keys.items() if key.required]
    if required:
        made["required"] = required
    if table.rest is not None:
        made["patternProperties"] = {
            _except(table.rest_pattern, table): _value(table.rest),
        }
    return made


def _except(pattern: str, table: Table) -> str:
    """Return the pattern of free names, less the names of the fixed keys."""
    if not table.keys:
        return pattern
    fixed = "|".join(sorted(table.keys))
    return f"^(?!({fixed})$){pattern.removeprefix('^')}"


def _key(key: Key) -> dict[str, Any]:
    made = {**_value(key.value), "description": key.says}
    if key.examples:
        made["examples"] = list(key.examples)
    return made
