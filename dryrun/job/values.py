"""Raw TOML values against the table of keys: types, units and ranges.

The result is plain dictionaries and lists in inside units; what does not fit is noted on the page
and left out, so that one reading finds every fault.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any, Final

from dryrun import units as quantities
from dryrun.job.faults import Page, printable, suggest
from dryrun.job.keys import (
    LONGEST_TEXT,
    Either,
    Flag,
    Integer,
    Number,
    Quantity,
    Several,
    Table,
    Text,
    Value,
)
from dryrun.job.places import Path
from dryrun.units import Kind, UnitError, Units

#: Stands for a value that was there but does not fit.
REFUSED: Final = object()
_MOST_ADVICE: Final = 100


def read_value(raw: object, value: Value, path: Path, page: Page, units: Units | None) -> Any:
    """Check one raw value and convert it to inside units; REFUSED when it does not fit."""
    match value:
        case Quantity():
            return _quantity(raw, value, path, page, units)
        case Integer():
            return _integer(raw, value, path, page)
        case Number():
            return _number(raw, value, path, page)
        case Text():
            return _text(raw, value, path, page)
        case Flag():
            if isinstance(raw, bool):
                return raw
            page.fault(path, f"found {describe(raw)}, expected true or false")
            return REFUSED
        case Several():
            return _several(raw, value, path, page, units)
        case Either():
            return _either(raw, value, path, page, units)
        case Table():
            return read_table(raw, value, path, page, units)


def read_table(
    raw: object, table: Table, path: Path, page: Page, units: Units | None
) -> dict[str, Any] | Any:
    """Check a table: known keys, needed keys, and each value.

    Returns
    -------
    dict
        Only the keys that were written and fit; REFUSED when `raw` is no table.
    """
    if not isinstance(raw, Mapping):
        page.fault(path, f"found {describe(raw)}, expected a table", _header_help(path))
        return REFUSED
    values: dict[str, Any] = {}
    for name, item in raw.items():
        here = (*path, name)
        if name in table.keys:
            result = read_value(item, table.keys[name].value, here, page, units)
        elif table.rest is not None and (isinstance(item, (Mapping, list)) or not table.keys):
            result = _named(name, item, table, here, page, units)
        else:
            _unknown(name, table, here, page)
            continue
        if result is not REFUSED:
            values[name] = result
    for name, key in table.keys.items():
        if key.required and name not in raw:
            page.fault(path, f'needs "{name}"', f"{name}: {key.says.lower().rstrip('.')}")
    return values


def describe(raw: object) -> str:
    """Say what a raw TOML value is, for messages."""
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, str):
        return f'"{printable(raw, 40)}"'
    if isinstance(raw, (int, float)):
        return printable(repr(raw) if abs(raw) < 10**30 else "a very large number", 40)
    if isinstance(raw, Mapping):
        return "a table"
    if isinstance(raw, list):
        return f"a list of {len(raw)}"
    return "a date or time"


def _header_help(path: Path) -> str | None:
    if path and all(isinstance(step, str) for step in path):
        return f"write [{'.'.join(str(step) for step in path)}] above its keys"
    return None


def _named(
    name: str, item: object, table: Table, path: Path, page: Page, units: Units | None
) -> Any:
    assert table.rest is not None
    if not re.fullmatch(table.rest_pattern, name) or len(name) > LONGEST_TEXT:
        page.fault(path, f'"{printable(name)}" is no name here, expected {table.rest_says}')
        return REFUSED
    return read_value(item, table.rest, path, page, units)


def _unknown(name: str, table: Table, path: Path, page: Page) -> None:
    # Looking for the nearest name is slow; a page full of unknown keys needs no advice on each.
    help = suggest(name, table.keys) if len(page.faults) < _MOST_ADVICE else None
    page.fault(path, f'unknown key "{printable(name)}"', help)


def _quantity(raw: object, value: Quantity, path: Path, page: Page, units: Units | None) -> Any:
    if isinstance(raw, str) and raw.strip().lower() in value.words:
        return raw.strip().lower()
    if isinstance(raw, bool) or not isinstance(raw, (str, int, float)):
        expected = quantities.EXAMPLES[value.kind]
        page.fault(path, f"found {describe(raw)}, expected {expected}{_or_words(value)}")
        return REFUSED
    try:
        number = quantities.parse(raw, value.kind, units)
    except UnitError as error:
        help = None
        if error.reason == "a number without a unit":
            help = f'write it with its unit, or units = "mm" or "in" at the top of {page.file}'
        reason = f": {error.reason}" if error.reason else ""
        page.fault(
            path, f"found {error.found}, expected {error.expected}{_or_words(value)}{reason}", help
        )
        return REFUSED
    shown = show(number, value.kind, units)
    if value.above and number <= value.low:
        page.fault(path, f"{shown} is not above {show(value.low, value.kind, units)}")
    elif number < value.low:
        page.fault(path, f"{shown} is below {show(value.low, value.kind, units)}")
    elif number > value.high:
        page.fault(path, f"{shown} is above {show(value.high, value.kind, units)}")
    else:
        return number
    return REFUSED


def _or_words(value: Quantity) -> str:
    return "".join(f', or "{word}"' for word in value.words)


def show(number: float, kind: Kind, units: Units | None) -> str:
    """Write a number of some kind for messages."""
    unit: Units = units or "mm"
    match kind:
        case "length":
            return quantities.format_length(number, unit)
        case "feed":
            return quantities.format_feed(number, unit)
        case "angle":
            return quantities.format_angle(number)
        case "acceleration":
            return quantities.format_acceleration(number, unit)
        case "jerk":
            return f"{number:g} mm/s³"
        case "time":
            return quantities.format_time(number)
        case "speed":
            return quantities.format_speed(number)
        case "power":
            return quantities.format_power(number)


def _integer(raw: object, value: Integer, path: Path, page: Page) -> Any:
    if isinstance(raw, bool) or not isinstance(raw, int):
        page.fault(path, f"found {describe(raw)}, expected a whole number")
    elif not value.low <= raw <= value.high:
        page.fault(path, f"found {describe(raw)}, expected {value.low} to {value.high}")
    else:
        return raw
    return REFUSED


def _number(raw: object, value: Number, path: Path, page: Page) -> Any:
    if isinstance(raw, bool) or not isinstance(raw, (int, float)) or not math.isfinite(raw):
        page.fault(path, f"found {describe(raw)}, expected a number")
    elif raw > value.high or raw < value.low or (value.above and raw == value.low):
        word = "above" if value.above else "from"
        page.fault(
            path, f"found {describe(raw)}, expected a number {word} {value.low:g} to {value.high:g}"
        )
    else:
        return float(raw)
    return REFUSED


def _text(raw: object, value: Text, path: Path, page: Page) -> Any:
    if not isinstance(raw, str):
        expected = _one_of(value.choices) if value.choices else "a text in quotes"
        page.fault(path, f"found {describe(raw)}, expected {expected}")
        return REFUSED
    if value.choices:
        if raw in value.choices:
            return raw
        help = suggest(raw, value.choices)
        page.fault(path, f"found {describe(raw)}, expected {_one_of(value.choices)}", help)
        return REFUSED
    if not raw.strip():
        page.fault(path, "the text is empty")
    elif len(raw) > LONGEST_TEXT:
        page.fault(path, f"the text has {len(raw)} characters, at most {LONGEST_TEXT} are read")
    elif not raw.isprintable():
        page.fault(path, f"{describe(raw)} holds a character that cannot be printed")
    elif value.pattern and not re.fullmatch(value.pattern, raw):
        page.fault(path, f"found {describe(raw)}, expected {value.pattern_says}")
    else:
        return raw
    return REFUSED


def _one_of(choices: tuple[str, ...]) -> str:
    quoted = [f'"{choice}"' for choice in choices]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"


def _several(raw: object, value: Several, path: Path, page: Page, units: Units | None) -> Any:
    wanted = f"{value.least}" if value.least == value.most else f"{value.least} to {value.most}"
    if not isinstance(raw, list):
        of_tables = isinstance(value.item, Table)
        help = f"write [[{path[-1]}]] above its keys" if of_tables and len(path) == 1 else None
        expected = "a list of tables" if of_tables else f"a list of {wanted}"
        page.fault(path, f"found {describe(raw)}, expected {expected}", help)
        return REFUSED
    if not value.least <= len(raw) <= value.most:
        page.fault(path, f"found {describe(raw)}, expected a list of {wanted}")
        return REFUSED
    items = [read_value(item, value.item, (*path, i), page, units) for i, item in enumerate(raw)]
    # Lists of tables keep their good items, so that faults across them are found too.
    if isinstance(value.item, Table):
        return items
    return REFUSED if any(item is REFUSED for item in items) else tuple(items)


def _either(raw: object, value: Either, path: Path, page: Page, units: Units | None) -> Any:
    for way in value.ways:
        if isinstance(raw, list) == isinstance(way, Several) and (
            not isinstance(way, Integer) or (isinstance(raw, int) and not isinstance(raw, bool))
        ):
            return read_value(raw, way, path, page, units)
    return read_value(raw, value.ways[0], path, page, units)
