"""What CI installs: one version of each package, every file of it held against a hash."""

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def plain(name: str) -> str:
    """Return a package's name as the index writes it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def locked() -> dict[str, tuple[str, int]]:
    """Return version and number of hashes of each locked package."""
    found: dict[str, tuple[str, int]] = {}
    for entry in (ROOT / ".ci" / "requirements.txt").read_text().replace("\\\n", " ").splitlines():
        if entry.strip() and not entry.startswith("#"):
            name, version = re.match(r"([\w.-]+)==([^ ;]+)", entry).groups()  # type: ignore[union-attr]
            found[plain(name)] = (version, len(re.findall(r"--hash=sha256:[0-9a-f]{64}\b", entry)))
    return found


def test_every_package_has_hashes() -> None:
    """No locked package is without the hashes of its files, and all of them are pinned."""
    assert len(locked()) > 80
    assert all(number > 0 for _, number in locked().values())


def test_the_lock_covers_what_the_project_asks_for() -> None:
    """Every dependency of every extra is locked; those who add one run .ci/lock."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    asked = [*project["build-system"]["requires"], *project["project"]["dependencies"]]
    for extra in project["project"]["optional-dependencies"].values():
        asked += extra
    names = {plain(re.match(r"[\w.-]+", line).group()) for line in asked}  # type: ignore[union-attr]

    assert names <= set(locked())


def test_constraints_are_the_same_pins() -> None:
    """The README's plain install, under the constraints, gets the versions of the lock."""
    lines = (ROOT / ".ci" / "constraints.txt").read_text().split()
    pins = {plain(name): version for name, version in (line.split("==") for line in lines)}

    assert pins == {name: version for name, (version, _) in locked().items()}
