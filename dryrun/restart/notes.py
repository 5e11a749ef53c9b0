"""What a restart program cannot guarantee, or what was assumed for it, in plain words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from dryrun.gcode.program import Program
from dryrun.motion import PROBE, TOOL
from dryrun.restart.writing import CARRIED
from dryrun.units import format_length

if TYPE_CHECKING:
    from dryrun.restart.plan import Restart


def notes_on(restart: Restart, written: Program) -> tuple[str, ...]:
    """Return what is to be said about a restart program."""
    return (*_on_zero(restart), *_on_text(restart, written), *_on_machine(restart))


def _on_zero(restart: Restart) -> Iterator[str]:
    assert restart.place is not None
    original = restart.stage.program
    words, system = original.words, restart.place.standing.system
    if any(words[code] for code in ("G92", "G92.1", "G92.2", "G92.3")):
        where = "the job's zero" if system == "G54" else "where the job declares it"
        yield (
            f"the original sets its zero by G92; the restart cancels G92 and counts from {system}: "
            f"prove that the zero of {system} is {where}"
        )
    if any("stands at the job's zero" in text for text in original.assumptions):
        yield (
            "the original counts from where the machine stood at its start, taken to be the job's "
            f"zero: the zero of {system} must be there now"
        )
    if (original.motion.kind[: restart.place.row] == PROBE).any():
        yield "the original probed before this place; what it found is not set again"
    if words["G52"]:
        yield "the original uses a local offset (G52); the restart cancels it"


def _on_text(restart: Restart, written: Program) -> Iterator[str]:
    original = restart.stage.program
    place = restart.place
    assert place is not None
    if restart.from_text:
        files = [name for name in written.source_names[1:] if name]
        if files:
            yield f"it calls {', '.join(files)}, which must lie beside it on the controller"
    else:
        yield (
            "the rest was written out from the moves, without cycles, calls, loops, compensation "
            f"and shifts of zero, to {restart.decimals} decimals at most"
        )
        lost = sorted(set(original.words) - CARRIED)
        if lost:
            yield f"not carried over, if they come after this place: {', '.join(lost)}"
        if "M60" in original.words or "M1" in original.words:
            yield "stops are written as M0"
    if (original.motion.kind[place.row :] == TOOL).any():
        yield "tool changes come after this place; only one bit a stage is simulated"


def _on_machine(restart: Restart) -> Iterator[str]:
    assert restart.place is not None
    state, units = restart.place.standing.state, restart.outcome.job.units
    if state.turning and not restart.seconds_waited:
        yield (
            "how long the spindle takes to come up to speed is not declared (spindle "
            "start_seconds) and the original does not wait: neither does the restart"
        )
    if state.turning and state.speed != state.speed:
        yield "the original never says a spindle speed; neither does the restart"
    if not state.turning:
        yield "the spindle stands still where the restart begins; the original starts it later"
    if not restart.heights.declared:
        height = format_length(restart.heights.clearance, units)
        yield f"safe_height is not declared; {height} above blank and clamps was taken"
    before = [s for s in restart.outcome.stages[:-1] if s.facts is None]
    for stage in before:
        yield f"stage {stage.number} is not in the blank as shown: {stage.note}"
    if restart.outcome.job.machine is None:
        yield "no machine is declared: travel and holder were not checked"
