"""`dryrun explain`: what is said of a code stands in paragraphs, and lists in points."""

from __future__ import annotations

import pytest

from dryrun.checks.catalogue import catalogue
from dryrun.cli.main import run


def explained(capsys: pytest.CaptureFixture[str], code: str) -> list[str]:
    with pytest.raises(SystemExit) as stopped:
        run(["explain", code])
    assert stopped.value.code == 0
    return capsys.readouterr().out.splitlines()


@pytest.mark.parametrize("code", sorted(catalogue()))
def test_no_line_is_too_long_for_a_screen(capsys: pytest.CaptureFixture[str], code: str) -> None:
    assert max(map(len, explained(capsys, code)[1:])) <= 78


def test_points_of_a_list_are_indented(capsys: pytest.CaptureFixture[str]) -> None:
    lines = explained(capsys, "odd-pass")
    points = [k for k, line in enumerate(lines) if line.startswith("  - ")]
    assert len(points) == 8
    assert all(lines[k + 1].startswith(("    ", "  - ")) for k in points)
