"""A full disk, a closed folder, a file that changes, a folder for a file: one message each."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

import dryrun.files
from dryrun.cli.exits import Exit
from tests.cli.test_check import PROGRAM, QUICK, Done, shell

ROOT = Path(__file__).resolve().parents[2]

SHORT = tuple(o for o in QUICK if o not in ("--cell", "0.5mm"))

#: Every command that writes a file; {out} is where.
WRITERS: dict[str, tuple[str, ...]] = {
    "check": ("check", "{part}", *QUICK, "--all", "-o", "{out}"),
    "check json": ("check", "{part}", *QUICK, "--format", "json", "-o", "{out}"),
    "picture": ("check", "{part}", *QUICK, "-q", "--picture", "{out}.png"),
    "report": ("report", "{part}", *QUICK, "-q", "-o", "{out}"),
    "sheet": ("sheet", "{part}", *SHORT, "-q", "-o", "{out}"),
    "time": ("time", "{part}", "--format", "json", "-o", "{out}"),
    "gauge plan": ("gauge", "plan", "{job}", "--cell", "1mm", "--sheet", "{out}"),
    "gauge page": ("gauge", "plan", "{job}", "--cell", "1mm", "--page", "{out}"),
    "heights csv": ("view", "{part}", *QUICK, "-q", "--heights", "{out}.csv"),
    "heights npz": ("view", "{part}", *QUICK, "-q", "--heights", "{out}.npz"),
    "init": ("init", "{part}", "-o", "{out}"),
    "restart": ("restart", "{part}", *QUICK, "-q", "--line", "6", "-o", "{out}.nc"),
    "schema": ("schema", "job", "-o", "{out}"),
    "replay": ("check", "--replay", "{record}", "--format", "json", "-o", "{out}"),
}
#: Commands that refuse a file that is there already.
NEVER_OVER = {"init", "restart"}
try:
    import trimesh  # noqa: F401 - is it there?
except ImportError:
    pass
else:
    WRITERS["stl"] = ("view", "{part}", *QUICK, "-q", "--stl", "{out}.stl")
    WRITERS["glb"] = ("view", "{part}", *QUICK, "-q", "--glb", "{out}.glb")

#: Bytes that a file may have where the disk is nearly full: less than any of them is long.
FULL = 150


@pytest.fixture
def words(tmp_path: Path) -> dict[str, str]:
    """A program, a job and a record of a check, in a folder of their own."""
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "part.nc").write_text(PROGRAM)
    (folder / "job.toml").write_text(
        'units = "mm"\n[stock]\nsize = [100, 100, 18]\nzero = "front-left-top"\n[bits.b]\n'
        'shape = "flat"\ndiameter = "6 mm"\n[[stages]]\nprogram = "part.nc"\nbit = "b"\n'
    )
    shell("check", str(folder / "part.nc"), "--format", "json", "-o", str(folder / "record.json"))
    return {name: str(folder / file) for name, file in
            (("part", "part.nc"), ("job", "job.toml"), ("record", "record.json"))}  # fmt: skip


def filled(command: tuple[str, ...], words: dict[str, str], out: Path) -> tuple[str, ...]:
    return tuple(part.format(**words, out=out) for part in command)


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def in_a_child(call: Callable[[], Done], prepare: Callable[[], None]) -> Done:
    """Call in a copy of this process that cannot come back, so that it may give up its rights."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            prepare()
            done = call()
            said = f"{int(done.returncode)}\n{done.stderr}".encode()
        except BaseException as error:
            said = f"99\n{error!r}".encode()
        os.write(writer, said[:60000])
        os._exit(0)
    os.close(writer)
    with os.fdopen(reader, "rb") as file:
        code, _, text = file.read().decode().partition("\n")
    os.waitpid(child, 0)
    return Done(int(code), "", text)


def one_message(done: Done) -> None:
    """Exit code 2, one message, no traceback."""
    assert done.returncode == Exit.UNUSABLE, done.stderr
    assert "Traceback" not in done.stderr
    assert done.stderr.count("Error: ") == 1, done.stderr
    assert "cannot" in done.stderr or "folder" in done.stderr


@pytest.fixture
def opened_to_all(tmp_path: Path) -> Iterator[Path]:
    """The test's folder, where others can come for as long as the test takes."""
    closed = [f for f in (tmp_path, *tmp_path.parents) if f.stat().st_mode & 0o005 != 0o005]
    modes = {folder: folder.stat().st_mode for folder in closed}
    try:
        for folder in closed:
            folder.chmod(modes[folder] | 0o055)
    except OSError:
        pytest.skip("the folder for tests is closed to others")
    yield tmp_path
    for folder, mode in modes.items():
        folder.chmod(mode)


needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")


@needs_fork
@pytest.mark.jit_only
@pytest.mark.parametrize("what", WRITERS)
def test_no_space(tmp_path: Path, words: dict[str, str], what: str) -> None:
    """With no room for the file nothing of it is left, and what stood there stands."""
    import resource

    out = tmp_path / "out"
    out.mkdir()
    command = filled(WRITERS[what], words, out / "made")
    assert shell(*command).returncode in (0, 1), "the command itself"
    (old,) = names(out)
    (out / old).write_text("old") if what not in NEVER_OVER else (out / old).unlink()

    def nearly_full() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (FULL, FULL))

    one_message(in_a_child(lambda: shell(*command), nearly_full))

    assert names(out) == ([old] if what not in NEVER_OVER else [])
    assert what in NEVER_OVER or (out / old).read_text() == "old"


def _open_to_all(path: Path) -> bool:
    """Whether somebody without rights can come to a file."""
    return all(parent.stat().st_mode & 0o001 for parent in path.parents)


@needs_fork
@pytest.mark.jit_only
@pytest.mark.parametrize(
    ("what", "rights"),
    [*((w, 0o555) for w in WRITERS), *((w, 0o444) for w in ("report", "init", "restart"))],
)
def test_no_permission(opened_to_all: Path, words: dict[str, str], what: str, rights: int) -> None:
    """In a folder that is closed to us, or cannot even be entered, nothing is written.

    The message says where.
    """
    if os.geteuid() == 0 and not _open_to_all(Path(dryrun.files.__file__)):
        pytest.skip("nobody but root may read our own files here")
    out = opened_to_all / "out"
    out.mkdir()
    out.chmod(rights)
    command = filled(WRITERS[what], words, out / "made")

    def anybody() -> None:
        if os.geteuid() == 0:
            os.setegid(65534)
            os.seteuid(65534)

    shell(*filled(WRITERS[what], words, opened_to_all / "warm"))  # all is loaded before rights go
    one_message(in_a_child(lambda: shell(*command), anybody))

    assert names(out) == []


@pytest.mark.jit_only
@pytest.mark.parametrize("what", WRITERS)
def test_a_folder_for_a_file(tmp_path: Path, words: dict[str, str], what: str) -> None:
    """Where a folder of the name stands, it stays and is said to be one."""
    out = tmp_path / "out"
    command = filled(WRITERS[what], words, out / "made")
    place = next(Path(part) for part in command if part.startswith(str(out)))
    place.mkdir(parents=True)
    (place / "mine").write_text("mine")

    one_message(shell(*command))

    assert names(out) == [place.name]
    assert names(place) == ["mine"]


@pytest.mark.parametrize(
    "command",
    [
        ("check", "{folder}"),
        ("report", "{folder}", "-o", "{folder}/r.html"),
        ("time", "{folder}"),
        ("check", "{part}", "--machine", "{folder}"),
        ("bits", "fit", "{part}", "--bits", "{folder}"),
        ("check", "{folder}.toml"),
        ("init", "{folder}", "-o", "-"),
        ("gauge", "compare", "{job}", "{folder}"),
        ("compare", "{folder}", "{folder}"),
    ],
)
def test_a_folder_is_no_input(
    tmp_path: Path, words: dict[str, str], command: tuple[str, ...]
) -> None:
    """A folder where a file is meant is one message and exit code 2."""
    folder = tmp_path / "folder"
    folder.mkdir()
    (tmp_path / "folder.toml").mkdir()

    done = shell(*(part.format(**words, folder=folder) for part in command))

    assert done.returncode == Exit.UNUSABLE, done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("command", ["check", "report", "sheet", "batch", "bits"])
@pytest.mark.parametrize("file", ["part.nc", "job.toml"])
def test_a_file_that_changes_while_it_is_read(
    words: dict[str, str], monkeypatch: pytest.MonkeyPatch, command: str, file: str, tmp_path: Path
) -> None:
    """What another program is still writing is refused, and nothing comes of the half of it."""
    if command in ("batch", "bits") and file == "job.toml":
        pytest.skip("takes programs")
    target = Path(words["part"]).with_name(file)
    real = os.fstat

    def grows(handle: int) -> os.stat_result:
        found = real(handle)
        if os.path.realpath(f"/proc/self/fd/{handle}") == str(target.resolve()):
            with target.open("a") as more:
                more.write("\n")
        return found

    if not Path("/proc/self/fd").exists():
        pytest.skip("needs /proc to tell which file it is")
    monkeypatch.setattr(dryrun.files.os, "fstat", grows)
    out = tmp_path / "made"
    if command == "batch":
        from dryrun.cli.asked import Asked
        from dryrun.cli.batch_work import check, request
        from dryrun.cli.jobs import Declared

        record = check(request(str(target), Asked(Declared())))
        assert record["exit"] == 2
        assert "changed while it was read" in record["error"]
        return
    start = {
        "check": ("check", str(target), "-o", str(out)),
        "report": ("report", str(target), "-o", str(out)),
        "sheet": ("sheet", str(target), "-o", str(out)),
        "bits": ("bits", "fit", str(target), "--bits", str(target.with_name("bits.toml"))),
    }[command]
    target.with_name("bits.toml").write_text('[b]\nshape = "flat"\ndiameter = "6 mm"\n')

    done = shell(*start)

    assert done.returncode == Exit.UNUSABLE
    assert "changed while it was read" in done.stderr
    assert not out.exists()


def test_a_batch_notices_what_changed_after_it_was_hashed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A program replaced between hash and check is not recorded under the other one's hash."""
    from dryrun.cli import batch_work
    from dryrun.cli.asked import Asked
    from dryrun.cli.jobs import Declared

    part = tmp_path / "part.nc"
    part.write_text(PROGRAM)
    real = Asked.check

    def late(self: Asked, files: list[str], **more: int | None) -> object:
        part.write_text(PROGRAM.replace("X60", "X61"))
        return real(self, files, **more)

    monkeypatch.setattr(Asked, "check", late)
    record = batch_work.check(batch_work.request(str(part), Asked(Declared())))

    assert record["exit"] == 2
    assert "changed while it was read" in record["error"]


@needs_fork
def test_a_batch_on_a_full_disk_keeps_whole_lines(tmp_path: Path) -> None:
    """The batch ends with one message; the lines that were written are whole, and it goes on."""
    import resource

    folder, out = tmp_path / "parts", tmp_path / "out"
    folder.mkdir()
    for n in range(6):
        (folder / f"p{n}.nc").write_text(PROGRAM)
    command = ("batch", str(folder), "-o", str(out), "--jobs", "1")

    def nearly_full() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (1800, 1800))

    one_message(in_a_child(lambda: shell(*command), nearly_full))
    data = (out / "results.jsonl").read_bytes()
    assert 0 < data.count(b"\n") < 6
    assert data.endswith(b"\n")
    assert "of 6 are done already" in shell(*command).stderr


def test_a_batch_into_a_closed_or_missing_place(tmp_path: Path) -> None:
    """A folder below a file cannot be made: one message."""
    (tmp_path / "p.nc").write_text(PROGRAM)

    one_message(shell("batch", str(tmp_path / "p.nc"), "-o", str(tmp_path / "p.nc" / "x")))


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no such device")
@pytest.mark.parametrize("command", [("check", "{part}"), ("--help",), ("explain", "too-deep")])
def test_standard_output_is_full(words: dict[str, str], command: tuple[str, ...]) -> None:
    """Output to a full disk ends with exit code 2 and one message, not with a fault of ours."""
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "dryrun", *(p.format(**words) for p in command)],
            stdout=full, stderr=subprocess.PIPE, text=True, check=False, cwd=ROOT, timeout=300,
        )  # fmt: skip

    one_message(Done(done.returncode, "", done.stderr))


def test_a_device_is_written_to_not_replaced(tmp_path: Path, words: dict[str, str]) -> None:
    """-o to a named pipe or a device leaves it what it is; a link stays a link."""
    import stat
    import threading

    (tmp_path / "real.txt").write_text("old")
    try:
        (tmp_path / "link.txt").symlink_to(tmp_path / "real.txt")
        os.mkfifo(tmp_path / "pipe")
    except (OSError, AttributeError, NotImplementedError):
        pytest.skip("no links or pipes here")
    shell("check", words["part"], "-o", str(tmp_path / "link.txt"))
    assert (tmp_path / "link.txt").is_symlink()
    assert "part" in (tmp_path / "real.txt").read_text()

    read: list[str] = []
    thread = threading.Thread(target=lambda: read.append((tmp_path / "pipe").read_text()))
    thread.start()
    assert shell("check", words["part"], "-o", str(tmp_path / "pipe")).returncode == Exit.OK
    thread.join(30)
    assert read == [(tmp_path / "real.txt").read_text()]
    assert stat.S_ISFIFO((tmp_path / "pipe").stat().st_mode)


def test_a_demo_that_does_not_fit_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The demo's folder is taken away again when its files cannot be written."""

    def full(*_: object) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    one_message(shell("demo", str(tmp_path / "demo")))
    assert not (tmp_path / "demo").exists()


def test_a_log_on_a_full_disk_keeps_whole_lines(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half an entry of the gauge's log is taken away again."""
    import datetime

    from dryrun.gauge import history

    day = datetime.date(2026, 5, 31)
    entry = history.Entry(day, "job", "d" * 16, "cause", 0.5, "name", -1.5, -2.0, 1.0, "mm")
    history.append(tmp_path, [entry])
    before = history.log_path(tmp_path).read_bytes()
    real = Path.open

    def full(self: Path, mode: str = "r", *more: object, **named: object) -> object:
        if mode != "a":
            return real(self, mode, *more, **named)  # type: ignore[arg-type]
        with real(self, "ab") as file:
            file.write(b"2026-05-31,jo")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "open", full)
    other = history.Entry(day, "job", "e" * 16, "cause", 0.5, "name", -1.5, -2.0, 1.0, "mm")
    with pytest.raises(history.GaugeError, match="cannot be written"):
        history.append(tmp_path, [other])
    monkeypatch.undo()
    assert history.log_path(tmp_path).read_bytes() == before


@needs_fork
def test_kernels_compile_where_their_cache_has_no_room(tmp_path: Path) -> None:
    """A cache that cannot be written costs time, not the result."""
    source = tmp_path / "one_kernel.py"
    source.write_text(
        "import resource, sys\nfrom dryrun.jit import kernel\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (10, 10))\n"
        "@kernel\ndef twice(x):\n    return x * 2.0\n"
        "assert twice(4.0) == 8.0\n"
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "DRYRUN_CACHE_DIR": str(tmp_path / "c")}
    done = subprocess.run([sys.executable, str(source)], capture_output=True, text=True,
                          check=False, env=environment, timeout=300)  # fmt: skip

    assert done.returncode == 0, done.stderr
