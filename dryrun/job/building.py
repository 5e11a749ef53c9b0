"""From checked values to the records of the model, with the faults that lie between keys."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from dryrun.job.bits import BitError, bit_problems, make_bit, parse_bit
from dryrun.job.faults import Page, printable, suggest
from dryrun.job.model import Allow, Bit, Clamp, Disc, DustShoe, Machine, Spindle, Stage, Stock
from dryrun.job.places import Path
from dryrun.job.values import REFUSED
from dryrun.job.zero import ZERO_HELP, ZeroError, parse_zero
from dryrun.units import Units, format_length, format_speed


def build_stock(values: Mapping[str, Any], path: Path, page: Page, units: Units) -> Stock | None:
    """Make the blank; None (with faults noted) when it cannot be."""
    size = values.get("size")
    # A size that was refused must not hide what is wrong with the zero.
    placed = _zero(values, size or (1.0, 1.0, 1.0), path, page, units)
    if size is None:
        return None
    allowed = values.get("allow_into_spoilboard", 0.0)
    board = values.get("spoilboard")
    if board is not None and allowed > board:
        page.fault(
            (*path, "allow_into_spoilboard"),
            f"{format_length(allowed, units)} is more than the spoilboard of "
            f"{format_length(board, units)}",
        )
    if placed is None:
        return None
    return Stock(
        size=size,
        zero_at=placed[1],
        zero=placed[0],
        nominal_thickness=values.get("nominal_thickness"),
        material=values.get("material"),
        spoilboard=board,
        allow_into_spoilboard=allowed,
    )


def _zero(
    values: Mapping[str, Any], size: Any, path: Path, page: Page, units: Units
) -> tuple[str, Any] | None:
    words, numbers = values.get("zero"), values.get("zero_at")
    if words is not None and numbers is not None:
        page.fault((*path, "zero_at"), "the zero is given twice", 'keep "zero" or "zero_at"')
        return None
    if numbers is not None:
        shown = ", ".join(format_length(number, units) for number in numbers)
        return f"at {shown} from front-left-top", numbers
    if words is None:
        # A wrong one was already named; a missing one is no place to guess at.
        if (*path, "zero") not in page.places and (*path, "zero_at") not in page.places:
            page.fault(path, 'needs "zero", where the work zero is on the blank', ZERO_HELP)
        return None
    try:
        return parse_zero(words, size)
    except ZeroError as error:
        page.fault((*path, "zero"), str(error), ZERO_HELP)
        return None


def build_machine(
    values: Mapping[str, Any], path: Path, page: Page, units: Units, name: str = "machine"
) -> Machine:
    """Make the machine; what was not declared keeps its default."""
    plain = {
        key: value
        for key, value in values.items()
        if key not in ("file", "units", "travel", "spindle", "holder", "dust_shoe")
    }
    plain.setdefault("name", name)
    declared = set(values) - {"file", "units"}
    if "travel" in values:
        plain["travel"] = _travel(values["travel"], (*path, "travel"), page, units)
    if "spindle" in values:
        plain["spindle"] = _spindle(values["spindle"], (*path, "spindle"), page)
        declared |= {f"spindle.{key}" for key in values["spindle"]}
    if "holder" in values:
        discs = [disc for disc in values["holder"] if _complete(disc, "diameter", "height")]
        plain["holder"] = tuple(Disc(**disc) for disc in discs)
    if "dust_shoe" in values and _complete(values["dust_shoe"], "diameter", "drop"):
        plain["dust_shoe"] = DustShoe(**values["dust_shoe"])
    return Machine(**plain, declared=frozenset(declared))


def _complete(values: Any, *keys: str) -> bool:
    return values is not REFUSED and all(key in values for key in keys)


def _travel(axes: Any, path: Path, page: Page, units: Units) -> Any:
    ranges = []
    for number, reach in enumerate(axes):
        if isinstance(reach, tuple):
            low, high = reach
        else:
            low, high = min(0.0, reach), max(0.0, reach)
        if not low < high:
            page.fault(
                (*path, number),
                f"a travel from {format_length(low, units)} to {format_length(high, units)} has "
                "no length",
                "write [low, high]",
            )
        ranges.append((low, high))
    return tuple(ranges)


def _spindle(values: Mapping[str, Any], path: Path, page: Page) -> Spindle:
    slow, fast = values.get("min"), values.get("max")
    if slow is not None and fast is not None and slow > fast:
        page.fault((*path, "min"), f"{format_speed(slow)} is above max, {format_speed(fast)}")
    return Spindle(**values)


def build_bits(values: Mapping[str, Any], path: Path, page: Page) -> dict[str, Bit | None]:
    """Make the rack: by name, None for a bit that is there but cannot be made."""
    bits: dict[str, Bit | None] = {}
    for name, keys in values.items():
        if name in ("file", "units"):
            continue
        bits[name] = _build_bit(name, keys, (*path, name), page)
    return bits


def _build_bit(name: str, values: Mapping[str, Any], path: Path, page: Page) -> Bit | None:
    if "shape" not in values:
        return None
    problems = bit_problems(values)
    for problem in problems:
        # A key that was written but refused is missing here; do not name it a second time.
        if problem.missing is not None and (*path, problem.missing) in page.places:
            continue
        where = path if problem.key is None else (*path, problem.key)
        page.fault(where, problem.message, problem.help)
    return None if problems else make_bit(name, values)


def build_clamps(items: Sequence[Any], path: Path, page: Page, units: Units) -> tuple[Clamp, ...]:
    """Make the clamps; boxes without an inside are faults."""
    clamps = []
    for number, item in enumerate(items):
        box = {} if item is REFUSED else item.get("box", {})
        if _complete(box, "min", "max"):
            _check_box(box["min"], box["max"], (*path, number, "box", "max"), page, units)
        if _complete(box, "min", "max", "height"):
            name = item.get("name", f"clamp {number + 1}")
            clamps.append(Clamp(name, box["min"], box["max"], box["height"]))
    return tuple(clamps)


def _check_box(low: Any, high: Any, path: Path, page: Page, units: Units) -> None:
    for axis, letter in enumerate("XY"):
        if low[axis] >= high[axis]:
            page.fault(
                path,
                f"max {letter} {format_length(high[axis], units)} is not above min {letter} "
                f"{format_length(low[axis], units)}",
            )


_STAGE_VALUES = (
    "max_pass", "max_plunge_rate", "max_ramp_angle", "zero_shift", "tab_width", "tab_height",
)  # fmt: skip


def build_stage(
    values: Mapping[str, Any],
    path: Path,
    page: Page,
    rack: Mapping[str, Bit | None],
    stock: Stock | None,
    units: Units | None,
) -> dict[str, Any]:
    """Make what a stage is built of, but for its program: keyword arguments of `Stage`."""
    made: dict[str, Any] = {key: values[key] for key in _STAGE_VALUES if key in values}
    depth = values.get("depth")
    if depth is not None:
        made["depth"] = math.inf if depth == "through" else depth
        if stock is not None and depth != "through" and depth > stock.size[2] + 1e-9:
            page.fault(
                (*path, "depth"),
                f"{format_length(depth, units or 'mm')} is more than the blank's thickness of "
                f"{format_length(stock.size[2], units or 'mm')}",
                'write depth = "through" when a cut through the blank is wanted',
            )
    made["offsets"] = tuple(sorted(values.get("offsets", {}).items()))
    if "bit" in values:
        made["bit"] = find_bit(values["bit"], rack, (*path, "bit"), page, units)
    return made


def find_bit(
    text: str, rack: Mapping[str, Bit | None], path: Path, page: Page, units: Units | None
) -> Bit | None:
    """Return the bit of that name, or the one a compact spelling describes."""
    if text in rack:
        return rack[text]
    if ":" in text:
        try:
            return parse_bit(text, units)
        except BitError as error:
            page.fault(path, error.message, error.help)
            return None
    help = suggest(text, rack)
    if not rack:
        help = 'declare it under [bits], or describe it like "flat:6mm"'
    page.fault(path, f'no bit is named "{printable(text)}"', help)
    return None


def build_allow(
    items: Sequence[Any], path: Path, page: Page, stages: Sequence[Stage], stage: int | None = None
) -> list[Allow]:
    """Make what the person accepts, for the whole job or for one stage (1-based)."""
    allows = []
    for number, item in enumerate(items):
        if item is REFUSED:
            continue
        here = (*path, number)
        which = stage if stage is not None else _stage_number(item, here, page, stages)
        lines = item.get("lines")
        if isinstance(lines, int):
            lines = (lines, lines)
        if lines is not None and lines[0] > lines[1]:
            page.fault((*here, "lines"), f"line {lines[0]} comes after line {lines[1]}")
        if _complete(item, "code", "reason"):
            allows.append(Allow(item["code"], item["reason"], which, lines))
    return allows


def _stage_number(
    item: Mapping[str, Any], path: Path, page: Page, stages: Sequence[Stage]
) -> int | None:
    which = item.get("stage")
    names = [stage.name for stage in stages]
    if which is None:
        return None
    if isinstance(which, int):
        if which <= len(stages):
            return which
        page.fault((*path, "stage"), f"there is no stage {which}, the job has {len(stages)}")
        return None
    if which in names:
        return names.index(which) + 1
    page.fault((*path, "stage"), f'no stage is named "{printable(which)}"', suggest(which, names))
    return None
