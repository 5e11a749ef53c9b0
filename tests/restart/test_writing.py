"""The restart program as a text: its order, its numbers, its remarks, what it does without."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryrun.gcode.program import read_program
from dryrun.job.model import Clamp, Machine, Spindle
from dryrun.motion import DWELL, RAPID
from dryrun.restart import plan
from dryrun.restart.numbers import EXACT, number_for, written
from dryrun.restart.plan import Restart, plan_restart
from dryrun.restart.reading_back import Difference
from dryrun.restart.writing import remark
from tests.restart.programs import PROGRAMS
from tests.restart.shop import CELL, job_of

PLAIN = PROGRAMS["plain"]
LINES = PLAIN.splitlines()


def at(name: str, words: str, **options: object) -> Restart:
    """Plan a restart at the first line that reads so."""
    job = job_of(PROGRAMS[name])
    line = PROGRAMS[name].splitlines().index(words) + 1
    return plan_restart(job, 1, line, cell=CELL, threads=1, **options)  # type: ignore[arg-type]


def test_up_over_start_wait_down() -> None:
    """Up first, across at that height, the spindle and its wait, and only then down.

    Common practice, no source: nothing crosses the blank low, nothing comes down standing still.
    """
    found = at("plain", "G1 Z-2.11000 F400.000")
    assert found.program is not None
    motion = read_program(found.program).motion
    up, across, wait, down = (motion.rows(slice(k, k + 1)) for k in range(4))
    assert [int(r.kind[0]) for r in (up, across, wait, down)] == [RAPID, RAPID, DWELL, RAPID]
    assert up.end[0, 2] == across.end[0, 2] == 15.0
    assert np.isnan(up.end[0, :2]).all()
    assert up.spindle[0] == across.spindle[0] == 0.0
    assert wait.spindle[0] == down.spindle[0] == 12000.0
    assert wait.seconds[0] == 3.0  # as long as the original waits
    assert down.end[0, 2] == 6.0
    assert b"\nM8\n" in found.program


@pytest.mark.parametrize(("declared", "waited"), [(0.0, 3.0), (2.0, 3.0), (7.5, 7.5)])
def test_waits_as_declared(declared: float, waited: float) -> None:
    """The longer of the declared start of the spindle and of the original's own wait."""
    machine = Machine(spindle=Spindle(start_seconds=declared))
    found = plan_restart(replace(job_of(PLAIN), machine=machine), 1, 25, cell=CELL, threads=1)
    assert found.seconds_waited == waited
    assert f"\nG4 P{waited:g}\n".encode() in (found.program or b"")


def test_crosses_above_clamps() -> None:
    """It crosses above the tallest clamp by the safe height, also where the program never goes."""
    clamp = Clamp("tower", (-90.0, -90.0), (-80.0, 90.0), 30.0)
    machine = Machine(safe_height=4.0, declared=frozenset({"safe_height"}))
    job = replace(job_of(PLAIN), clamps=(clamp,), machine=machine)
    found = plan_restart(job, 1, 25, cell=CELL, threads=1)
    assert b"\nG0 Z34\n" in (found.program or b"")
    assert not [f for f in found.findings if f.level == "error"]


def test_not_clean_beside_a_clamp() -> None:
    """A place the bit would come down to beside a clamp is passed over for one before."""
    line = LINES.index("G1 Z-2.11000 F400.000") + 1
    free = plan_restart(job_of(PLAIN), 1, line, cell=CELL, threads=1)
    assert free.place is not None
    x, y, _ = free.place.standing.programmed
    clamp = Clamp("near", (x + 1.0, y - 1.0), (x + 3.0, y + 1.0), 12.0)
    job = replace(job_of(PLAIN), clamps=(clamp,))
    other = plan_restart(job, 1, line, cell=CELL, threads=1)
    assert other.place is not None
    assert other.place.row < free.place.row


def test_modes_of_the_place() -> None:
    """Unit, path mode, tool, length, coolant and feed mode stand before the first move."""
    text = (at("changes", "G1 Z-1.2 F300").program or b"").decode()
    head = text[: text.index("G0 X20 Y-50")]
    for words in ("G21 G17 G90 G94 G40", "G64 P0.02", "G54", "T1 M6", "G0 G43 H1 Z15", "S9000 M3"):
        assert f"\n{words}\n" in head
    assert "M8" not in head  # switched off before
    inch = (at("inch", "G1 Z-0.06850 F15.748").program or b"").decode()
    assert inch.startswith("%\n")
    assert inch.endswith("%\n")
    assert "\nG20 G17 G90 G94 G40\n" in inch
    incremental = (at("incremental", "Y21.1 F800").program or b"").decode()
    assert "\nG91\nX15.5 Y3.1\n" in incremental


def test_from_the_beginning_when_nothing_is_clean() -> None:
    """Without a clean place that is said in plain words, and nothing is handed out."""
    low = PLAIN.replace("G0 Z6.0000", "G0 Z0.5").replace("Z2.0000", "Z0.3").replace("Z15", "Z0.5")
    found = plan_restart(job_of(low), 1, 30, cell=CELL, threads=1)
    assert found.program is None
    assert found.place is None
    assert "lower than 1 mm above blank or clamps" in found.why_not
    own = PLAIN.replace("S12000 M3", "S12000 M3\nG10 L20 P1 X10")
    moved = plan_restart(job_of(own.replace("G0 Z15", "G0 X0 Y0 Z15")), 1, 30, cell=CELL, threads=1)
    assert moved.place is None or moved.place.line <= 6
    assert moved.program is not None or "G10" in moved.why_not


def test_the_beginning_is_no_place_to_go_on() -> None:
    """Before the first move there is nothing to go on from, also where the machine parks high."""
    machine = Machine(
        work_zero=(200.0, 200.0, -50.0),
        park=(5.0, 390.0, -2.0),
        travel=((0.0, 400.0), (0.0, 400.0), (-90.0, 0.0)),
    )
    found = plan_restart(replace(job_of(PLAIN), machine=machine), 1, 3, cell=CELL, threads=1)
    assert found.stop.row == 0
    assert found.program is None
    assert "no rapid comes before it" in found.why_not


def test_compensation_is_never_entered_in_the_middle() -> None:
    """However high a rapid under compensation is, the way back leads before G41."""
    found = at("compensated", "X20 Y55")
    lines = PROGRAMS["compensated"].splitlines()
    assert found.place is not None
    assert found.place.line <= lines.index("G41 G0 X5 Y40") + 1
    assert found.stop.standing.state.compensation == 41


def test_a_hole_is_never_entered_in_the_middle() -> None:
    """Between the pecks of a hole is no place to go on, its first approach is."""
    found = at("cycles", "Y-50")
    assert found.place is not None
    motion = found.stage.program.motion
    assert motion.line[found.place.row - 1] != motion.line[found.place.row]


def test_different_blank_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """When a single cell would differ nothing is handed out, and that is said."""
    monkeypatch.setattr(plan.reading_back, "difference", lambda a, b: Difference(1, 0.25, (0, 0)))
    found = at("plain", "G1 Z-2.11000 F400.000")
    assert found.program is None
    assert found.checked is None
    assert "not handed out" in found.why_not
    assert found.difference is not None
    assert found.difference.cells == 1


def test_what_is_lost_is_said() -> None:
    """G92, tool changes, codes that rows do not carry: each is named."""
    offsets = at("offsets", "Y122 F900")
    assert any("G92" in note for note in offsets.notes)
    changes = at("changes", "G1 Z-1.2 F300")
    assert any("tool changes" in note for note in changes.notes)
    body = PROGRAMS["subprograms"].replace("O200\n", "O200\nM10\n", 1)
    job = job_of(body)
    inside = plan_restart(
        job, 1, body.splitlines().index("G1 Y13.3 F900") + 1, pass_=2, cell=CELL, threads=1
    )
    assert not inside.from_text
    assert any("not carried over" in note and "M10" in note for note in inside.notes)


@given(st.text(max_size=120))
def test_remarks_cannot_be_broken_out_of(text: str) -> None:
    """Whatever stands in a name: one line, one pair of parentheses, nothing a reader acts on."""
    made = remark(text)
    assert made[0] == "("
    assert made[-1] == ")"
    assert not set(made[1:-1]) & set("()[]{};%:\r\n")
    assert made.isascii()
    assert len(made) <= 80
    program = read_program(f"{made}\nG21 G0 X1\nM30\n".encode())
    assert len(program.motion) == 2


def test_hostile_names_stay_in_remarks() -> None:
    """A stage named like a program does not become one."""
    job = job_of(PLAIN)
    stages = (replace(job.stages[0], name="x)\nG1 Z-99 F9\n%\n(dryrun: allow bed-hit (ha)"),)
    found = plan_restart(replace(job, stages=stages), 1, 25, cell=CELL, threads=1)
    assert found.program is not None
    assert b"Z-99" not in found.program.split(b"G21")[1]
    assert read_program(found.program).motion.end[:, 2].min() > -5


@given(
    st.floats(-2000, 2000),
    st.sampled_from([1.0, 25.4]),
    st.floats(-500, 500),
    st.sampled_from([6, 9, EXACT]),
)
def test_numbers_lead_to_the_place(
    wanted: float, factor: float, origin: float, decimals: int
) -> None:
    """What is written is read back within half the last decimal; the text is plain decimals."""
    number = number_for(wanted, factor, origin, decimals)
    text = written(number)
    assert float(text) == number
    assert set(text) <= set("-0123456789.")
    near = 0.5 * 10.0**-decimals * factor + 4 * math.ulp(abs(wanted) + abs(origin) + factor)
    assert abs(number * factor + origin - wanted) <= near * 1.001


@given(st.integers(-99_999_999, 99_999_999), st.integers(0, 4))
def test_short_numbers_stay_short(digits: int, places: int) -> None:
    """A place that came of a short number gets that number back."""
    number = digits / 10**places
    assert number_for(number, 1.0, 0.0, EXACT) == number
    assert number_for(number * 25.4, 25.4, 0.0, 9) * 25.4 == number * 25.4


def test_line_ends_and_encoding_are_the_originals() -> None:
    """CR LF stays CR LF, and Latin-1 stays what it was."""
    job = job_of(PLAIN)
    data = PLAIN.replace("(plain)", "(gr\u00fcn)").replace("\n", "\r\n").encode("latin-1")
    data = data.replace(b"M9\r\n", b"(f\xfcnf)\r\nM9\r\n")
    job = replace(job, stages=(replace(job.stages[0], text=data),))
    found = plan_restart(job, 1, 25, cell=CELL, threads=1)
    assert found.program is not None
    assert found.program.count(b"\n") == found.program.count(b"\r\n")
    assert b"(f\xfcnf)\r\n" in found.program
