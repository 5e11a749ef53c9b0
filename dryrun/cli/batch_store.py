"""Where a batch keeps its results: one line of JSON for each input, added as they come.

A run that is ended at any moment leaves whole lines and at most a part of one at the end, which
the next run cuts off. When a run is through, the file is written anew in the order of the inputs,
beside the old one and then in its place.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterable
from pathlib import Path
from types import TracebackType
from typing import Any, Final, Self

from dryrun.cli.batch_inputs import OUR_FILES
from dryrun.cli.exits import Unusable
from dryrun.cli.output import written_whole

NAME: Final = "results.jsonl"
SCHEMA: Final = 1


def line_of(record: dict[str, Any]) -> bytes:
    """Return a record as a line; ASCII, so that any name of a file can be written."""
    return json.dumps(record, separators=(",", ":"), allow_nan=False).encode("ascii") + b"\n"


class Store:
    """The results of a batch in a folder; a context manager that keeps others out meanwhile."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / NAME
        self.known: dict[str, dict[str, Any]] = {}
        self.broken = 0
        self._lock = -1
        self._log = -1

    def __enter__(self) -> Self:
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._lock = _locked(self.path.parent / ".lock")
            for name in OUR_FILES:
                for part in self.path.parent.glob(f".{name}.*.part"):
                    part.unlink(missing_ok=True)
            self._log = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o666)
            self._read()
        except OSError as error:
            self.close()
            raise self._unusable(error) from error
        except Unusable:
            self.close()
            raise
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file and of the lock."""
        for handle in (self._log, self._lock):
            if handle >= 0:
                os.close(handle)
        self._log = self._lock = -1

    def _read(self) -> None:
        """Read what is there; cut off the part of a line that an ended run has left."""
        with os.fdopen(os.dup(self._log), "rb") as file:
            data = file.read()
        whole = data.rfind(b"\n") + 1
        lines = data[:whole].splitlines()
        for line in lines:
            record = _record(line)
            if record is None:
                self.broken += 1
            else:
                self.known[record["path"]] = record
        if data and not self.known and not (not lines and data.startswith(b'{"schema":')):
            raise Unusable(f"{self.path}: this is there already and no result of a batch")
        if whole < len(data):
            os.ftruncate(self._log, whole)
        os.lseek(self._log, whole, os.SEEK_SET)

    def add(self, record: dict[str, Any]) -> None:
        """Add one result; all of its line or nothing.

        Raises
        ------
        Unusable
            When it cannot be written; what was added before is kept.
        """
        line = line_of(record)
        end = os.lseek(self._log, 0, os.SEEK_CUR)
        try:
            written = 0
            while written < len(line):
                written += os.write(self._log, line[written:])
        except OSError as error:
            with contextlib.suppress(OSError):
                os.ftruncate(self._log, end)
            raise self._unusable(error) from error
        self.known[record["path"]] = record

    def finish(self, records: Iterable[dict[str, Any]]) -> None:
        """Write the file anew: these records in this order."""
        os.fsync(self._log)
        os.close(self._log)
        self._log = -1
        with written_whole(self.path) as part, part.open("wb") as file:
            for record in records:
                file.write(line_of(record))
            file.flush()
            os.fsync(file.fileno())

    def _unusable(self, error: OSError) -> Unusable:
        return Unusable(f"cannot write {self.path}: {error.strerror or error}")


def _record(line: bytes) -> dict[str, Any] | None:
    try:
        record = json.loads(line)
    except (ValueError, RecursionError):
        return None
    good = isinstance(record, dict) and record.get("schema") == SCHEMA
    whole = good and all(isinstance(record.get(k), str) for k in ("path", "input", "settings"))
    return record if whole and isinstance(record.get("exit"), int) else None


def _locked(path: Path) -> int:
    """Return a handle that keeps other batches out until it is closed.

    Raises
    ------
    Unusable
        When another batch writes there.
    """
    handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o666)
    try:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except ImportError:
        pass  # no such locks here; two runs at once are the person's to avoid
    except OSError as error:
        os.close(handle)
        raise Unusable(f"{path.parent}: another batch is writing there") from error
    return handle
