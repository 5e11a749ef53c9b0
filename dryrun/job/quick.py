"""A job without a job file: programs, a compact bit and a blank, as the command line gives them."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Final

from dryrun.job.bits import BitError, parse_bit
from dryrun.job.faults import JobError, Page, printable
from dryrun.job.model import Bit, Clamp, Job, Machine, Stage, Stock, Vector
from dryrun.job.zero import ZERO_HELP, ZeroError, parse_zero
from dryrun.units import UnitError, Units, parse_length

_STOCK_HELP: Final = "write it like 200x200x18mm or 8x8x3/4in: X, Y and thickness"
_LARGEST: Final = 20_000.0  # mm
_UNIT_AT_END = re.compile(r"[^\d\s./\-]+$")


def quick_job(
    programs: Sequence[FilePath | bytes],
    bit: str | Bit | None = None,
    stock: str | Stock | None = None,
    zero: str | None = None,
    *,
    depth: str | float | None = None,
    material: str | None = None,
    units: Units | None = None,
    machine: Machine | None = None,
    clamps: tuple[Clamp, ...] | None = None,
    spoilboard: str | None = None,
    allow_into_spoilboard: str | None = None,
) -> Job:
    """Make a job of programs and what was said on the command line.

    Parameters
    ----------
    programs : list of paths, or of bytes of programs
        One stage for each.
    bit : str or Bit, optional
        Compact, such as "flat:6mm"; the bit of all stages.
    stock : str or Stock, optional
        "200x200x18mm" or "8x8x3/4in".
    zero : str, optional
        Where the work zero is, such as "centre-top"; needed when `stock` is text.
    depth : str or float, optional
        "4 mm", "through", or mm: the deepest intended cut of all stages.
    material, spoilboard, allow_into_spoilboard : str, optional
        As in a job file.
    units : "mm" or "in", optional
        What bare numbers are in, and what is shown. Without it bare numbers are refused, and what
        is shown follows the unit of the blank.
    machine : Machine, optional
        The router.
    clamps : tuple of Clamp, optional
        An empty one says there are none.

    Raises
    ------
    JobError
        With every fault found; `Fault.key` is the parameter.
    """
    page = Page("command line")
    shown: Units = units or _units_of(stock if isinstance(stock, str) else None, bit)
    the_bit = _quick_bit(bit, page, units)
    the_stock = stock if isinstance(stock, Stock) else None
    if isinstance(stock, str):
        the_stock = _quick_stock(stock, zero, page, units, material, spoilboard)
    elif stock is None:
        _refuse_without_stock(page, zero=zero, material=material, spoilboard=spoilboard)
    the_depth = _quick_depth(depth, page, units)
    board = _optional_length(allow_into_spoilboard, "allow_into_spoilboard", page, units)
    stages = tuple(
        _quick_stage(number, program, the_bit, the_depth, page)
        for number, program in enumerate(programs, start=1)
    )
    if not stages:
        page.fault(("programs",), "no program is given")
    if page.faults:
        raise JobError(page.faults)
    if the_stock is not None and board is not None:
        the_stock = _with_board(the_stock, board)
    title = stages[0].name if len(stages) == 1 else f"{len(stages)} programs"
    return Job(
        title=title,
        units=shown,
        stages=stages,
        stock=the_stock,
        machine=machine,
        clamps=clamps,
        bits=(the_bit,) if the_bit is not None else (),
    )


def parse_stock_size(text: str, units: Units | None = None) -> Vector:
    """Read "200x200x18mm", "8x8x3/4in" or "200mm x 8in x 18mm" into mm.

    Sizes without a unit of their own take the last one's.

    Raises
    ------
    UnitError
    """
    parts = [part.strip() for part in re.split(r"[xX×]", text)]
    if len(parts) != 3 or not all(parts):
        raise UnitError(text, "three sizes, X, Y and thickness")
    last = _UNIT_AT_END.search(parts[2])
    unit = last.group() if last else ""
    sizes = []
    for part in parts:
        whole = part if _UNIT_AT_END.search(part) else f"{part}{unit}"
        size = parse_length(whole, units)
        if not 0 < size <= _LARGEST:
            raise UnitError(part, "a size above 0 and at most 20 m")
        sizes.append(size)
    return (sizes[0], sizes[1], sizes[2])


def _units_of(stock: str | None, bit: str | Bit | None) -> Units:
    written = stock if stock is not None else bit if isinstance(bit, str) else ""
    return "in" if re.search(r"(in|inch|\")\s*$", written) else "mm"


def _quick_bit(bit: str | Bit | None, page: Page, units: Units | None) -> Bit | None:
    if bit is None or isinstance(bit, Bit):
        return bit
    try:
        return parse_bit(bit, units)
    except BitError as error:
        page.fault(("bit",), error.message, error.help)
        return None


def _quick_stock(
    text: str,
    zero: str | None,
    page: Page,
    units: Units | None,
    material: str | None,
    spoilboard: str | None,
) -> Stock | None:
    board = _optional_length(spoilboard, "spoilboard", page, units)
    try:
        size = parse_stock_size(text, units)
    except UnitError as error:
        page.fault(("stock",), str(error), _STOCK_HELP)
        return None
    if zero is None:
        page.fault(("zero",), "is needed with the blank: where the work zero is on it", ZERO_HELP)
        return None
    try:
        words, zero_at = parse_zero(zero, size)
    except ZeroError as error:
        page.fault(("zero",), str(error), ZERO_HELP)
        return None
    return Stock(size=size, zero_at=zero_at, zero=words, material=material, spoilboard=board)


def _refuse_without_stock(page: Page, **given: str | None) -> None:
    for key, value in given.items():
        if value is not None:
            page.fault((key,), "says nothing without the blank", "give its size too")


def _optional_length(text: str | None, key: str, page: Page, units: Units | None) -> float | None:
    if text is None:
        return None
    try:
        length = parse_length(text, units)
    except UnitError as error:
        page.fault((key,), str(error))
        return None
    if not 0 <= length <= _LARGEST:
        page.fault((key,), f'"{printable(text)}" is below 0 or too large')
        return None
    return length


def _with_board(stock: Stock, allowed: float) -> Stock:
    return replace(stock, allow_into_spoilboard=allowed)


def _quick_depth(depth: str | float | None, page: Page, units: Units | None) -> float | None:
    if depth is None or isinstance(depth, (int, float)):
        return depth
    if depth.strip().lower() == "through":
        return math.inf
    length = _optional_length(depth, "depth", page, units)
    if length == 0:
        page.fault(("depth",), "0 is not above 0")
    return length


def _quick_stage(
    number: int, program: FilePath | bytes, bit: Bit | None, depth: float | None, page: Page
) -> Stage:
    if isinstance(program, bytes):
        return Stage(name=f"program {number}", program=None, text=program, bit=bit, depth=depth)
    file = FilePath(program)
    try:
        if file.is_dir():
            page.fault(("programs",), f'"{printable(str(file))}" is a folder, expected a program')
        elif not file.exists():
            page.fault(("programs",), f'there is no file "{printable(str(file))}"')
    except (OSError, ValueError):
        page.fault(("programs",), f'"{printable(str(file))}" cannot be read')
    return Stage(name=file.stem, program=file, bit=bit, depth=depth)
