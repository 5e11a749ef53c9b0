"""What a batch is of: programs and job files, found in folders, listed in files, or named."""

from __future__ import annotations

import hashlib
import os
import re
import sys
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from dryrun.cli.exits import Unusable
from dryrun.job.reading import LARGEST_DECLARATION, LARGEST_PROGRAM

#: What programs are called in a folder; the rest of it may be anything.
SUFFIXES: Final = (".nc", ".ngc", ".gcode", ".gc", ".tap", ".cnc")

#: Bytes; a list longer than this is not one.
_LARGEST_LIST: Final = 256_000_000

#: Bytes; larger files are not taken as subprograms.
_LARGEST_BESIDE: Final = 64_000_000

#: What may call a program in a file beside it; said too often, which only costs a hash.
_CALLS: Final = re.compile(
    rb"(?i)M[\s0]*9\s*8|G[\s0]*6\s*5|[MG]\s*[\[#]|O\s*[<\[#]|CALL|(?<![A-Z])L\s*[\d\[#]"
)
_LONGEST_CALL: Final = 32

#: What a batch writes, and therefore never depends on.
OUR_FILES: Final = frozenset({"results.jsonl", "index.html", "summary.txt"})


@dataclass(frozen=True, slots=True)
class Found:
    """What a batch is of.

    Attributes
    ----------
    paths : each once, as named; for a folder, the folder with what is in it
    links : how many symbolic links in folders were not followed
    """

    paths: tuple[str, ...]
    links: int = 0


@dataclass(slots=True)
class _Search:
    suffixes: tuple[str, ...]
    out: Path | None
    paths: dict[str, str] = field(default_factory=dict)
    links: int = 0

    def add(self, path: str) -> None:
        """Take a path once, whatever it is called."""
        self.paths.setdefault(os.path.realpath(path), path)


def find_inputs(
    named: Sequence[str], suffixes: Iterable[str] = (), out: str | None = None
) -> Found:
    """Return the programs and job files that the arguments of `dryrun batch` mean.

    Raises
    ------
    Unusable
        For an argument that is not there, or a list that cannot be read.
    """
    more = tuple(s.lower() if s.startswith(".") else f".{s.lower()}" for s in suffixes)
    search = _Search((*SUFFIXES, *more), None if out is None else Path(out).resolve())
    for name in named:
        path = Path(name)
        if path.is_dir():
            _search_folder(search, name)
        elif name == "-":
            _take_lines(search, sys.stdin.buffer.read(_LARGEST_LIST + 1), Path(), name)
        elif not path.exists():
            raise Unusable(f"{name}: there is no such file or folder")
        elif path.suffix.lower() in (".toml", *search.suffixes):
            search.add(name)
        else:
            _read_list(search, path)
    return Found(tuple(search.paths.values()), search.links)


def _read_list(search: _Search, path: Path) -> None:
    """Take one path a line, relative to the list; blank lines and lines with # are skipped."""
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST_LIST + 1)
    except OSError as error:
        raise Unusable(f"{path}: {error.strerror or error}") from error
    _take_lines(search, data, path.parent, str(path))


def _take_lines(search: _Search, data: bytes, folder: Path, name: str) -> None:
    if b"\0" in data or len(data) > _LARGEST_LIST:
        raise Unusable(f"{name}: this is not a list of paths, one a line")
    for line in data.removeprefix(b"\xef\xbb\xbf").splitlines():
        if line.strip() and not line.lstrip().startswith(b"#"):
            named = os.fsdecode(line.strip())
            search.add(named if folder == Path() else os.path.join(folder, named))


def _search_folder(search: _Search, folder: str) -> None:
    """Take every job.toml and, but for those of its stages, every program; links are left out."""
    jobs: list[str] = []
    programs: list[str] = []
    for place, folders, names in os.walk(folder):
        folders[:] = sorted(f for f in folders if _is_own(search, place, f))
        for name in sorted(names):
            path = os.path.join(place, name)
            is_job = name.lower() == "job.toml"
            if name.startswith(".") or not (is_job or name.lower().endswith(search.suffixes)):
                continue
            if os.path.islink(path):
                search.links += 1
            elif os.path.isfile(path):
                (jobs if is_job else programs).append(path)
    taken = {program for job in jobs for program in _programs_of(Path(job))}
    for path in sorted([*jobs, *(p for p in programs if os.path.realpath(p) not in taken)]):
        search.add(path)


def _is_own(search: _Search, place: str, name: str) -> bool:
    path = os.path.join(place, name)
    if os.path.islink(path):
        search.links += 1
        return False
    return not name.startswith(".") and (search.out is None or Path(path).resolve() != search.out)


def _raw_job(path: Path) -> dict[str, Any]:
    """Return a job file as it is; {} when it cannot be read, which is for the check to say."""
    try:
        with path.open("rb") as file:
            return tomllib.loads(file.read(LARGEST_DECLARATION).decode("utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return {}


def _programs_of(job: Path) -> Iterator[str]:
    for stage in _tables(_raw_job(job).get("stages")):
        if isinstance(stage.get("program"), str) and "\0" not in stage["program"]:
            yield os.path.realpath(job.parent / stage["program"])


def _tables(value: Any) -> list[dict[str, Any]]:
    return [v for v in value if isinstance(v, dict)] if isinstance(value, list) else []


# ---------------------------------------------------------------- has it changed


class Hashes:
    """SHA-256 of files, each read once, and of all that an input is made of."""

    def __init__(self) -> None:
        self._known: dict[str, str] = {}
        self._calls: dict[str, bool] = {}
        self._folders: dict[str, str] = {}

    def of_file(self, path: str) -> str:
        """Return the hash of a file's bytes, or why it has none."""
        key = os.path.realpath(path)
        if key not in self._known:
            self._known[key], self._calls[key] = _hash(key)
        return self._known[key]

    def of_input(self, path: str) -> str:
        """Return the hash of all that a program or a job file is made of.

        That is the file itself, what a job names, and, where a program may call others, every
        program-like file beside it.
        """
        files = [path]
        if path.lower().endswith(".toml"):
            files += _named_in(Path(path))
        parts = self._lines(files)
        folders = {os.path.dirname(f) for f in files if self._calls.get(os.path.realpath(f))}
        return _sha256([*parts, *(self._of_folder(folder) for folder in sorted(folders))])

    def _lines(self, files: Iterable[str]) -> list[str]:
        return [f"{os.path.basename(file)}\0{self.of_file(file)}" for file in files]

    def _of_folder(self, folder: str) -> str:
        if folder not in self._folders:
            self._folders[folder] = _sha256(self._lines(_beside(folder)))
        return self._folders[folder]


def _sha256(lines: Iterable[str]) -> str:
    return hashlib.sha256("\n".join(lines).encode("utf-8", "surrogateescape")).hexdigest()


def _hash(path: str) -> tuple[str, bool]:
    digest, calls, read, tail = hashlib.sha256(), False, 0, b""
    try:
        if not os.path.isfile(path):
            return "not a file", False
        with open(path, "rb") as file:
            while (piece := file.read(1 << 20)) and read <= LARGEST_PROGRAM:
                digest.update(piece)
                read += len(piece)
                calls = calls or _CALLS.search(tail + piece) is not None
                tail = piece[-_LONGEST_CALL:]
    except (OSError, ValueError):
        return "cannot be read", False
    return digest.hexdigest(), calls


def _named_in(job: Path) -> list[str]:
    """Return the files a job names inside its folder; nothing outside is looked at."""
    raw = _raw_job(job)
    named = [raw[k].get("file") for k in ("machine", "bits") if isinstance(raw.get(k), dict)]
    named += [stage.get("program") for stage in _tables(raw.get("stages"))]
    root = os.path.realpath(job.parent)
    found = []
    for name in named:
        if isinstance(name, str) and "\0" not in name:
            path = os.path.join(job.parent, name)
            if os.path.realpath(path).startswith(root + os.sep):
                found.append(path)
    return found


def _beside(folder: str) -> list[str]:
    try:
        with os.scandir(folder or ".") as entries:
            return sorted(
                os.path.join(folder, e.name)
                for e in entries
                if e.is_file(follow_symlinks=False)
                and e.stat().st_size <= _LARGEST_BESIDE
                and e.name not in OUR_FILES
            )
    except OSError:
        return []
