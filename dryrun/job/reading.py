"""Reading a job, a machine or a rack of bits from TOML, with every fault found at once.

Nothing outside the job's folder is read unless the person named it to us: a job file from
elsewhere must not make us open what it likes.
"""

from __future__ import annotations

import hashlib
import os
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path as FilePath
from typing import Any, Final

from dryrun.files import read_steady
from dryrun.job.building import (
    build_allow,
    build_bits,
    build_clamps,
    build_machine,
    build_stage,
    build_stock,
)
from dryrun.job.faults import Fault, JobError, Page, nearest, printable
from dryrun.job.keys import BITS_FILE, JOB, MACHINE_FILE, Table
from dryrun.job.model import Bit, Job, Machine, Source, Stage, Stock
from dryrun.job.places import Path, key_places
from dryrun.job.quick import quick_job
from dryrun.job.values import REFUSED, read_table
from dryrun.units import Units

__all__ = ["Fault", "JobError", "quick_job", "read_bits", "read_job", "read_machine"]

#: Bytes; a declaration larger than this is not one that a person wrote.
LARGEST_DECLARATION: Final = 1_000_000
#: Bytes; a program larger than this is refused before it is opened.
LARGEST_PROGRAM: Final = 1_000_000_000


def read_job(
    path: str | os.PathLike[str],
    *,
    machine: str | os.PathLike[str] | None = None,
    bits: str | os.PathLike[str] | None = None,
) -> Job:
    """Read a job file and the machine and bits files it names.

    Parameters
    ----------
    path : path
        The job file. Paths in it are relative to its folder and must stay inside.
    machine, bits : path, optional
        Read these instead of the files the job names; they may lie anywhere.

    Raises
    ------
    JobError
        With every fault found, each with its place.
    """
    file = FilePath(path)
    page, raw = _open_page(file, str(path))
    units = _declared_units(raw)
    values = read_table(raw, JOB, (), page, units)
    others: list[Page] = []
    rack = _rack(values, raw, file.parent, page, others, units, bits)
    the_machine = _machine(values, raw, file.parent, page, others, units, machine)
    stock = None
    if "stock" in values:
        stock = build_stock(values["stock"], ("stock",), page, units or "mm")
    clamps = None
    if "clamps" in values:
        clamps = build_clamps(values["clamps"], ("clamps",), page, units or "mm")
    stages = _stages(values, file.parent, page, rack, stock, units)
    allows = build_allow(values.get("allow", []), ("allow",), page, stages)
    for number, item in enumerate(values.get("stages", [])):
        if item is not REFUSED and "allow" in item:
            where: Path = ("stages", number, "allow")
            allows += build_allow(item["allow"], where, page, stages, number + 1)
    _raise_faults([page, *others])
    return Job(
        title=values.get("title", file.stem),
        units=units or "mm",
        stages=tuple(stages),
        stock=stock,
        machine=the_machine,
        clamps=clamps,
        bits=tuple(bit for bit in rack.values() if bit is not None),
        allow=tuple(allows),
        path=file,
        sources=_sources(file, page, others, values, machine, bits),
    )


def _sources(
    file: FilePath,
    page: Page,
    others: list[Page],
    values: Mapping[str, Any],
    machine: str | os.PathLike[str] | None,
    bits: str | os.PathLike[str] | None,
) -> tuple[Source, ...]:
    """Return what was read, in the order it was: the job, its bits, its machine."""
    named = [("bits", bits), ("machine", machine)]
    roles = [
        (role, FilePath(given).name if given is not None else values[role]["file"])
        for role, given in named
        if given is not None or "file" in values.get(role, {})
    ]
    found = [Source("job", file.name, page.sha256)]
    pairs = zip(roles, others, strict=True)
    return tuple(found + [Source(role, name, other.sha256) for (role, name), other in pairs])


def read_machine(path: str | os.PathLike[str], units: Units | None = None) -> Machine:
    """Read a machine file.

    Parameters
    ----------
    path : path
        The machine file.
    units : "mm", "in" or None
        What bare numbers are in when the file does not say; None refuses them.

    Raises
    ------
    JobError
    """
    return read_machine_file(path, units)[0]


def read_machine_file(
    path: str | os.PathLike[str], units: Units | None = None
) -> tuple[Machine, Source]:
    """Read a machine file as `read_machine` does; also say what was read.

    Raises
    ------
    JobError
    """
    page, raw = _open_page(FilePath(path), str(path))
    own = _declared_units(raw) or units
    values = read_table(raw, MACHINE_FILE, (), page, own)
    machine = build_machine(values, (), page, own or "mm", FilePath(path).stem)
    _raise_faults([page])
    return machine, Source("machine", FilePath(path).name, page.sha256)


def read_bits(path: str | os.PathLike[str], units: Units | None = None) -> tuple[Bit, ...]:
    """Read a bits file, one table for each bit.

    Raises
    ------
    JobError
    """
    page, raw = _open_page(FilePath(path), str(path))
    bits = _read_rack(raw, page, units)
    _raise_faults([page])
    return tuple(bit for bit in bits.values() if bit is not None)


def _raise_faults(pages: list[Page]) -> None:
    faults = [fault for page in pages for fault in page.faults]
    if faults:
        order = {page.file: number for number, page in enumerate(pages)}
        faults.sort(key=lambda f: (order[f.file], f.line or 0, f.column or 0))
        raise JobError(faults)


# --- files -------------------------------------------------------------------------------------


def _open_page(file: FilePath, shown: str) -> tuple[Page, Mapping[str, Any]]:
    """Read TOML; raises at once when there is nothing to look for more faults in."""
    page = Page(printable(shown, 200))
    text = _read_text(file, page)
    if text is not None:
        try:
            raw = tomllib.loads(text)
            page.places = key_places(text)
            return page, raw
        except (ValueError, RecursionError) as error:
            page.faults.append(_syntax_fault(error, page.file, text))
    raise JobError(page.faults)


def _read_text(file: FilePath, page: Page) -> str | None:
    try:
        if file.is_dir():
            page.fault((), "is a folder, expected a TOML file")
            return None
        if not file.exists():
            page.fault((), "there is no such file", _similar(file))
            return None
        if not file.is_file():
            page.fault((), "is no ordinary file")
            return None
        size = file.stat().st_size
        if size > LARGEST_DECLARATION:
            page.fault((), f"has {size} bytes, at most {LARGEST_DECLARATION} are read")
            return None
        data = read_steady(file, LARGEST_DECLARATION)
    except (OSError, ValueError) as error:
        page.fault((), f"cannot be read: {_why(error)}")
        return None
    page.sha256 = hashlib.sha256(data).hexdigest()
    return _decode(data, page)


def _decode(data: bytes, page: Page) -> str | None:
    if not data.strip():
        page.fault((), "is empty")
        return None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        column = error.start - (data.rfind(b"\n", 0, error.start) + 1) + 1
        message = "is not UTF-8 text"
        help = None if b"\0" in data else "save it as UTF-8"
        page.faults.append(Fault(page.file, line, column, "", message, help))
        return None
    if "\0" in text:
        page.fault((), "is a binary file, expected TOML text")
        return None
    return text.replace("\r\n", "\n")


def _why(error: Exception) -> str:
    if isinstance(error, OSError) and error.strerror:
        return error.strerror.lower()
    return printable(str(error))


def _syntax_fault(error: Exception, file: str, text: str) -> Fault:
    """Turn an error of the TOML reader into a fault with a place."""
    if isinstance(error, RecursionError):
        return Fault(file, None, None, "", "is nested too deeply")
    words = str(error)
    place = re.search(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$", words)
    if "integer string conversion" in words:
        return Fault(file, None, None, "", "holds a number with thousands of digits")
    if place is None:
        return Fault(file, None, None, "", f"is not TOML: {printable(words, 200)}")
    words = words[: place.start()]
    if place.group(1):
        line, column = int(place.group(1)), int(place.group(2))
    else:
        last = text.rstrip("\n")
        line, column = last.count("\n") + 1, len(last) - (last.rfind("\n") + 1) + 1
    message = printable(words[:1].lower() + words[1:], 200)
    return Fault(file, line, column, "", f"is not TOML: {message}")


def _similar(file: FilePath) -> str | None:
    """Help for a file that is not there: one beside it with a name like it."""
    try:
        names = [entry.name for entry in file.parent.iterdir() if entry.is_file()][:1000]
    except (OSError, ValueError):
        return None
    close = nearest(file.name, names)
    return f'did you mean "{printable(close)}"?' if close else None


def inside(folder: FilePath, name: str, path: Path, page: Page) -> FilePath | None:
    """Return the path of a file the job names, or None (noted) when it may not be read."""
    try:
        root = folder.resolve()
        found = (root / name).resolve()
        if not found.is_relative_to(root):
            page.fault(
                path,
                f'"{printable(name)}" lies outside the job\'s folder, nothing there is read',
                "copy the file beside the job file, or name it on the command line",
            )
        elif found.is_dir():
            page.fault(path, f'"{printable(name)}" is a folder, expected a file')
        elif not found.exists():
            help = _similar(found)
            if "\\" in name and help is None:
                help = "write / between folder and file"
            page.fault(path, f'there is no file "{printable(name)}" in the job\'s folder', help)
        elif not found.is_file():
            page.fault(path, f'"{printable(name)}" is no ordinary file')
        else:
            return folder / name
    except (OSError, ValueError, RuntimeError) as error:
        page.fault(path, f'"{printable(name)}" cannot be read: {_why(error)}')
    return None


# --- parts of a job ----------------------------------------------------------------------------


def _declared_units(raw: Mapping[str, Any]) -> Units | None:
    units = raw.get("units")
    if units is None:
        return None
    # A wrong word is a fault of its own; bare numbers need not all be faults because of it.
    return "in" if units == "in" else "mm"


def _read_other(
    named: str | os.PathLike[str] | None,
    values: Mapping[str, Any],
    section: str,
    folder: FilePath,
    page: Page,
    others: list[Page],
) -> tuple[Page, Mapping[str, Any], str] | None:
    """Open the file a section names, or the one named on the command line instead."""
    if named is not None:
        file: FilePath | None = FilePath(named)
        shown = str(named)
    elif "file" in values:
        file = inside(folder, values["file"], (section, "file"), page)
        shown = str(file)
    else:
        return None
    if file is None:
        return None
    try:
        other, raw = _open_page(file, shown)
    except JobError as error:
        broken = Page(printable(shown, 200))
        broken.faults.extend(error.faults)
        others.append(broken)
        return None
    others.append(other)
    return other, raw, file.stem


def _rack(
    values: Mapping[str, Any],
    raw: Mapping[str, Any],
    folder: FilePath,
    page: Page,
    others: list[Page],
    units: Units | None,
    named: str | os.PathLike[str] | None,
) -> dict[str, Bit | None]:
    section = values.get("bits", {})
    rack: dict[str, Bit | None] = {}
    opened = _read_other(named, section, "bits", folder, page, others)
    if opened is not None:
        other, raw_rack, _ = opened
        rack |= _read_rack(raw_rack, other, units)
    own = build_bits(section, ("bits",), page)
    return rack | own


def _read_rack(raw: Mapping[str, Any], page: Page, units: Units | None) -> dict[str, Bit | None]:
    values = read_table(raw, BITS_FILE, (), page, _declared_units(raw) or units)
    rack: dict[str, Bit | None] = {name: None for name in raw if isinstance(raw[name], Mapping)}
    return rack | build_bits(values, (), page)


def _machine(
    values: Mapping[str, Any],
    raw: Mapping[str, Any],
    folder: FilePath,
    page: Page,
    others: list[Page],
    units: Units | None,
    named: str | os.PathLike[str] | None,
) -> Machine | None:
    section = values.get("machine")
    if section is None and named is None:
        return None
    section = section or {}
    opened = _read_other(named, section, "machine", folder, page, others)
    if opened is None:
        return build_machine(section, ("machine",), page, units or "mm")
    other, raw_machine, stem = opened
    own_units = _declared_units(raw_machine) or units
    from_file = read_table(raw_machine, MACHINE_FILE, (), other, own_units)
    before = len(other.faults)
    build_machine(from_file, (), other, own_units or "mm")
    merged = {**from_file, **section}
    if "spindle" in from_file and "spindle" in section:
        merged["spindle"] = {**from_file["spindle"], **section["spindle"]}
    if len(other.faults) > before:
        # Its own faults are noted at their own places; the merged record is only a stand-in.
        return None
    return build_machine(merged, ("machine",), page, units or "mm", stem)


def _stages(
    values: Mapping[str, Any],
    folder: FilePath,
    page: Page,
    rack: Mapping[str, Bit | None],
    stock: Stock | None,
    units: Units | None,
) -> list[Stage]:
    stages: list[Stage] = []
    names: dict[str, int] = {}
    for number, item in enumerate(values.get("stages", [])):
        path: Path = ("stages", number)
        item = {} if item is REFUSED else item
        program = _program(item, folder, path, page)
        name = item.get("name") or FilePath(item.get("program", f"stage {number + 1}")).stem
        if name in names and "name" in item:
            page.fault(
                (*path, "name"), f'stages {names[name]} and {number + 1} are both named "{name}"'
            )
        names.setdefault(name, number + 1)
        made = build_stage(item, path, page, rack, stock, units)
        stages.append(Stage(name=name, program=program, **made))
    return stages


def _program(
    values: Mapping[str, Any], folder: FilePath, path: Path, page: Page
) -> FilePath | None:
    if "program" not in values:
        return None
    where = (*path, "program")
    file = inside(folder, values["program"], where, page)
    if file is not None and (size := file.stat().st_size) > LARGEST_PROGRAM:
        page.fault(where, f"the program has {size} bytes, at most {LARGEST_PROGRAM} are read")
        return None
    return file


def check_table(raw: Mapping[str, Any], table: Table, file: str = "") -> list[Fault]:
    """Return the faults of raw values against a table of keys alone."""
    page = Page(file)
    read_table(raw, table, (), page, _declared_units(raw))
    return page.faults
