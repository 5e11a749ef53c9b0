"""What `dryrun bits fit` asks about each bit of a rack, here or in other processes."""

from __future__ import annotations

import base64
import hashlib
import os
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.cli.elsewhere import results_of
from dryrun.cli.exits import Unusable
from dryrun.cli.jobs import Declared, load_job

if TYPE_CHECKING:
    from dryrun.fitting.measures import Measures
    from dryrun.fitting.models import Evidence
    from dryrun.fitting.target import Target
    from dryrun.gcode.program import Program
    from dryrun.job.materials import Material
    from dryrun.job.model import Bit, Job
    from dryrun.units import Units

TASK: Final = "dryrun.cli.fit_work:weigh_one"

#: Heights that a bit leaves where the target is; None without a target or under material.
Cut = NDArray[np.float32] | None


@dataclass(frozen=True, slots=True)
class Question:
    """Which bit of a rack was a program made for: the files and what is declared about them."""

    program: str
    rack: str
    target: str | None
    target_depth: str | None
    declared: Declared


@dataclass(frozen=True, slots=True)
class Prepared:
    """The question's files, read and measured; `inputs` are their SHA-256."""

    bits: tuple[Bit, ...]
    job: Job
    read: Program
    unit: Units
    measures: Measures
    material: Material | None
    target: Target | None
    inputs: tuple[str, ...]


def prepare(question: Question) -> Prepared:
    """Read and measure everything that is the same for each bit."""
    from dryrun.fitting.measures import measure
    from dryrun.job.materials import find_material

    declared = question.declared
    bits = _rack(question.rack, units_of(declared))
    job = load_job([question.program], declared)
    read = read_only(job)
    unit: Units = "in" if read.state.modal.get("units") == "G20" else "mm"
    named = job.stock.material if job.stock else None
    return Prepared(
        bits=bits,
        job=job,
        read=read,
        unit=unit,
        measures=measure(read.motion, job.stock.top if job.stock else None, unit),
        material=find_material(named) if named else None,
        target=_target(question, job, unit),
        inputs=_inputs(question, read),
    )


def weigh_bit(
    prepared: Prepared, bit: Bit, threads: int | None = None
) -> tuple[list[Evidence], Cut]:
    """Return what the path says about one bit, and what it leaves where the target is."""
    from dryrun.fitting.ranking import weigh

    evidence = weigh(prepared.measures, bit, prepared.material)
    if prepared.target is None:
        return evidence, None
    from dryrun.fitting.target import cut_to_target

    return evidence, cut_to_target(prepared.read.motion, bit, prepared.target, threads)


def weigh_over(
    question: Question, prepared: Prepared, jobs: int | None, scheduler: str | None
) -> list[tuple[list[Evidence], Cut]]:
    """Do `weigh_bit` for every bit in other processes, with the same answers."""
    from dryrun.fitting.models import Evidence

    asked = {**asdict(_absolute(question)), "inputs": list(prepared.inputs)}
    given = ({"question": asked, "bit": n} for n in range(len(prepared.bits)))
    changed = "the files changed meanwhile, or differ on the cluster"
    return [
        ([Evidence(*each) for each in found["evidence"]], _unpacked(found["cut"], prepared.target))
        for found in results_of(
            TASK, given, jobs, scheduler,
            lambda n: f"{prepared.bits[n].name} could not be weighed", changed,
        )
    ]  # fmt: skip


def weigh_one(given: Mapping[str, Any]) -> dict[str, Any] | None:
    """Weigh one bit in a process of its own; None when the files are not the ones meant."""
    asked = dict(given["question"])
    meant = tuple(asked.pop("inputs"))
    question = Question(**{**asked, "declared": Declared(**asked["declared"])})
    prepared = _prepared(question)
    if prepared.inputs != meant:
        return None
    evidence, cut = weigh_bit(prepared, prepared.bits[given["bit"]], threads=1)
    return {
        "evidence": [[e.kind, e.log, e.text] for e in evidence],
        "cut": None if cut is None else base64.b64encode(zlib.compress(cut.tobytes(), 1)).decode(),
    }


@lru_cache(maxsize=1)
def _prepared(question: Question) -> Prepared:
    return prepare(question)


def _unpacked(text: str | None, target: Target | None) -> Cut:
    if text is None or target is None:
        return None
    data = zlib.decompress(base64.b64decode(text))
    return np.frombuffer(data, np.float32).reshape(target.height.shape)


def _absolute(question: Question) -> Question:
    """Return the question as a process in another folder would ask it."""
    machine, target = question.declared.machine, question.target
    return replace(
        question,
        program=os.path.abspath(question.program),
        rack=os.path.abspath(question.rack),
        target=target and os.path.abspath(target),
        declared=replace(question.declared, machine=machine and os.path.abspath(machine)),
    )


def _inputs(question: Question, read: Program) -> tuple[str, ...]:
    texts: Sequence[bytes] = [read.data, *(text.encode() for text in read.subprograms)]
    paths = [question.rack, question.target, question.declared.machine]
    files = [Path(path).read_bytes() for path in paths if path is not None]
    return tuple(hashlib.sha256(data).hexdigest() for data in [*texts, *files])


def units_of(declared: Declared) -> Units | None:
    """Return the unit that was declared on the command line."""
    found: dict[str | None, Units] = {"mm": "mm", "in": "in"}
    return found.get(declared.units)


def _rack(path: str, units: Units | None) -> tuple[Bit, ...]:
    from dryrun.cli.jobs import faults_text
    from dryrun.job.faults import JobError
    from dryrun.job.reading import read_bits

    try:
        bits = read_bits(path, units)
    except JobError as error:
        raise Unusable(faults_text(error)) from error
    if not bits:
        raise Unusable(f"{path}: there is no bit in it")
    return bits


def read_only(job: Job) -> Program:
    """Read the job's only program; nothing is timed or cut."""
    from dryrun.files import read_steady
    from dryrun.gcode.controller import from_accepts
    from dryrun.gcode.program import read_program
    from dryrun.job.model import Machine
    from dryrun.job.reading import LARGEST_PROGRAM

    stage, machine = job.stages[0], job.machine or Machine()
    data = stage.text
    if data is None:
        assert stage.program is not None
        try:
            data = read_steady(stage.program, LARGEST_PROGRAM)
        except OSError as error:
            raise Unusable(f"{stage.program}: {error.strerror or error}") from error
    name = stage.name if stage.program is None else stage.program.name
    if not data.strip():
        raise Unusable(f"{name}: the program is empty")
    if b"\0" in data[:65536]:
        raise Unusable(f"{name}: this is not a text file, so it cannot be a G-code program")
    return read_program(
        data,
        controller=from_accepts(machine.accepts) if machine.accepts else None,
        unit=machine.unit or job.units,
        name=name,
        folder=None if stage.program is None else stage.program.parent,
        work_zero=machine.work_zero,
    )


def _target(question: Question, job: Job, unit: Units) -> Target | None:
    if question.target is None:
        if question.target_depth is not None:
            raise Unusable("--target-depth goes with --target")
        return None
    from dryrun.fitting.target import TargetError, read_target
    from dryrun.units import UnitError, parse_length

    unit = units_of(question.declared) or unit
    try:
        depth = question.target_depth
        deep = None if depth is None else parse_length(depth, unit)
        return read_target(question.target, job.stock, deep, unit)
    except UnitError as error:
        raise Unusable(f"--target-depth: {error}") from error
    except TargetError as error:
        raise Unusable(f"--target: {error}") from error
    except ImportError as error:
        raise Unusable(f"--target: a mesh needs the package {error.name}") from error
    except OSError as error:
        raise Unusable(f"{question.target}: {error.strerror or error}") from error
