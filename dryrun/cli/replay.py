"""`dryrun check --replay RECORD`: check again as a report says it was checked, and compare."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import click

from dryrun.cli.asked import Asked
from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.output import write_text
from dryrun.report.words import visible

#: Options of `check` that go with --replay; all others are what the record says.
REPLAYABLE: Final = frozenset({"replay", "files", "machine", "threads", "form", "output", "quiet"})

#: Bytes; a report larger than this is not read.
LARGEST_RECORD: Final = 256_000_000

_IN_PAGE: Final = re.compile(r'<script type="application/json" id="replay">(.*?)</script>', re.S)
_TEXTS: Final = frozenset(
    {"bit", "stock", "zero", "depth", "units", "material", "machine", "stdin_filename", "cell",
     "memory"}
)  # fmt: skip
_LISTS: Final = frozenset({"select", "ignore"})


def refuse_given(ctx: click.Context, allowed: frozenset[str]) -> None:
    """Raise Unusable for options on the command line that the record already says."""
    given = click.core.ParameterSource.COMMANDLINE
    for parameter in ctx.command.params:
        name = parameter.name or ""
        if name not in allowed and ctx.get_parameter_source(name) == given:
            raise Unusable(f"{parameter.opts[0]}: with --replay the record says this")


def replay_check(
    record: str,
    files: Sequence[str],
    machine: str | None,
    threads: int | None,
    form: str,
    output: str | None,
    quiet: bool,
) -> int:
    """Check again and say what is different; exit code 1 when the result is another one."""
    if form not in ("text", "json"):
        raise Unusable(f"--format {form}: with --replay it is text or json")
    then, body = _read(Path(record))
    near = Path(record).parent
    asked = Asked.of(then["settings"], machine or _machine(then, near))
    outcome = asked.check(list(files) or _files(then, near), threads, quiet)
    from dryrun.report.json_text import dumps
    from dryrun.report.machine_readable import as_json

    found = as_json(outcome, then["settings"])
    said = comparison(then, body, found)
    write_text(dumps(said) if form == "json" else "\n".join(_lines(said)), output)
    return Exit.OK if said["same"] else Exit.FINDINGS


# ---------------------------------------------------------------- the record


def _read(path: Path) -> tuple[dict[str, Any], dict[str, Any] | None]:
    """Return the record in a JSON, SARIF or HTML report, and the JSON it is part of if any."""
    from dryrun.files import read_steady

    try:
        data = read_steady(path, LARGEST_RECORD)
    except OSError as error:
        raise Unusable(f"{path}: {error.strerror or error}") from error
    if len(data) > LARGEST_RECORD:
        raise Unusable(f"{path}: more than {LARGEST_RECORD} bytes is no report of dryrun")
    text = data.decode("utf-8-sig", errors="replace")
    if text.lstrip().startswith("<"):
        found = _IN_PAGE.search(text)
        text = found.group(1) if found else "null"
    try:
        whole = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise Unusable(f"{path}: this is not JSON: {error}") from error
    record, body = _record_in(whole)
    fault = _fault(record)
    if fault:
        raise Unusable(f"{path}: {fault}")
    return record, body


def _record_in(whole: Any) -> tuple[Any, dict[str, Any] | None]:
    if not isinstance(whole, dict):
        return None, None
    if "replay" in whole:
        return whole["replay"], whole
    try:
        return whole["runs"][0]["properties"]["replay"], None
    except (KeyError, IndexError, TypeError):
        return whole, None


def _fault(record: Any) -> str:
    """Return what is wrong with a record, which may come from anybody, or ""."""
    if not isinstance(record, dict) or record.get("command") != "check":
        return "there is no record of `dryrun check` in it"
    settings, inputs, versions = (record.get(k) for k in ("settings", "inputs", "versions"))
    if not (isinstance(settings, dict) and isinstance(inputs, list) and isinstance(versions, dict)):
        return "the record is not whole"
    for name, value in settings.items():
        good = name in _TEXTS and isinstance(value, str)
        listed = name in _LISTS and isinstance(value, list)
        if not good and not (listed and all(isinstance(v, str) for v in value)):
            return f"the record has a setting that is not known: {name}"
    if not all(isinstance(i, dict) and _is_text(i, "role", "name") for i in inputs):
        return "the record's list of inputs is not whole"
    return "" if isinstance(record.get("result"), str) else "the record has no hash of its result"


def _is_text(record: dict[str, Any], *keys: str) -> bool:
    return all(isinstance(record.get(key), str) for key in keys)


def _files(record: dict[str, Any], near: Path) -> list[str]:
    """Return the files of a record: beside it, or in the current folder."""
    inputs = record["inputs"]
    named = [i["name"] for i in inputs if i["role"] == "job"]
    named = named or [i["name"] for i in inputs if i["role"] == "program"]
    return [_found(name, near) for name in named]


def _machine(record: dict[str, Any], near: Path) -> str | None:
    name = record["settings"].get("machine")
    return None if name is None else _found(name, near)


def _found(name: str, near: Path) -> str:
    # A record may come from anybody: it names files beside it, and no others.
    if name in ("", ".", "..") or any(c in name for c in "/\\\0:"):
        raise Unusable(f"the record names {visible(name)!r}; say on the command line where it is")
    for folder in (near, Path()):
        path = folder / name
        if path.is_file() and not path.is_symlink():
            return str(path)
    raise Unusable(
        f"{visible(name)} is neither beside the record nor here; name it on the command line: "
        "dryrun check --replay RECORD FILES"
    )


# ---------------------------------------------------------------- what is different


def comparison(
    then: dict[str, Any], body: dict[str, Any] | None, found: dict[str, Any]
) -> dict[str, Any]:
    """Return what differs between a record and a new result, as plain data."""
    from dryrun.report.replay import result_hash

    now = found["replay"]
    return {
        "schema": 1,
        "same": then["result"] == now["result"],
        "result": {"then": then["result"], "now": now["result"]},
        "altered": body is not None and result_hash(body) != then["result"],
        "versions": _changes({**then["versions"]}, now["versions"]),
        "compiled": {"then": then.get("compiled"), "now": now["compiled"]},
        "inputs": _changes(_hashes(then), _hashes(now)),
        "inputs_same": _hashes(then) == _hashes(now),
        "places": [] if body is None else sorted(_places(body, found))[:50],
    }


def _hashes(record: dict[str, Any]) -> dict[str, Any]:
    return {
        f"{n} {i['role']} {i['name']}": i.get("sha256")
        for n, i in enumerate(record["inputs"], start=1)
    }


def _changes(then: dict[str, Any], now: dict[str, Any]) -> list[dict[str, Any]]:
    names = list(dict.fromkeys([*then, *now]))
    return [
        {"name": name, "then": then.get(name), "now": now.get(name)}
        for name in names
        if then.get(name) != now.get(name)
    ]


def _places(then: Any, now: Any, at: str = "") -> Iterator[str]:
    """Yield where two results differ."""
    if isinstance(then, dict) and isinstance(now, dict):
        for key in {*then, *now} - ({"replay"} if not at else set()):
            yield from _places(then.get(key), now.get(key), f"{at}.{key}" if at else key)
    elif isinstance(then, list) and isinstance(now, list) and len(then) == len(now):
        for n, (a, b) in enumerate(zip(then, now, strict=True), start=1):
            yield from _places(a, b, f"{at}[{n}]")
    elif then != now:
        yield at


def _lines(said: dict[str, Any]) -> Iterator[str]:
    yield "the same bytes" if said["same"] else "the result is another one"
    if said["altered"]:
        yield "   the report does not fit its own record: it was changed after it was written"
    for kind, word in (("inputs", "inputs"), ("versions", "versions")):
        if not said[kind]:
            yield f"   {word}: as they were"
        for change in said[kind]:
            then, now = (_short(change[k]) for k in ("then", "now"))
            yield f"   {word}: {visible(change['name'])}: {then} then, {now} now"
    if said["compiled"]["then"] != said["compiled"]["now"]:
        yield "   one of the two ran without the compiler"
    for place in said["places"]:
        yield f"   differs: {visible(place)}"


def _short(value: object) -> str:
    if value is None:
        return "not there"
    text = visible(str(value))
    return text[:12] + "…" if len(text) > 40 else text
