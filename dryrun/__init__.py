"""dryrun: what a G-code program will do at the router, before anyone presses start.

The public API. Everything is loaded when first used, so that `import dryrun` is quick::

    import dryrun

    job = dryrun.read_job("job.toml")
    outcome = dryrun.dry_run(job)
    for finding in outcome.findings:
        print(finding.level, finding.code, finding.message)
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from dryrun.checks.run import NotRun as NotRun
    from dryrun.finding import Finding as Finding
    from dryrun.gauge import Diagnosis as Diagnosis
    from dryrun.gauge import Measurements as Measurements
    from dryrun.gauge import compare_depths as compare_depths
    from dryrun.gauge import read_measurements as read_measurements
    from dryrun.gcode.program import Program as Program
    from dryrun.gcode.program import read_program as read_program
    from dryrun.job.model import Bit as Bit
    from dryrun.job.model import Job as Job
    from dryrun.job.model import Machine as Machine
    from dryrun.job.model import Stock as Stock
    from dryrun.job.reading import JobError as JobError
    from dryrun.job.reading import read_job as read_job
    from dryrun.motion import Motion as Motion
    from dryrun.outcome import Outcome as Outcome
    from dryrun.outcome import StageOutcome as StageOutcome
    from dryrun.outcome import dry_run as dry_run
    from dryrun.removal.facts import CutFacts as CutFacts
    from dryrun.removal.simulate import remove as remove
    from dryrun.removal.surface import Surface as Surface
    from dryrun.timing.planner import plan_time as plan_time
    from dryrun.timing.table import TimeTable as TimeTable

_HOMES = {
    "Bit": "job.model",
    "CutFacts": "removal.facts",
    "Diagnosis": "gauge",
    "Finding": "finding",
    "Job": "job.model",
    "JobError": "job.reading",
    "Machine": "job.model",
    "Measurements": "gauge",
    "Motion": "motion",
    "NotRun": "checks.run",
    "Outcome": "outcome",
    "Program": "gcode.program",
    "StageOutcome": "outcome",
    "Stock": "job.model",
    "Surface": "removal.surface",
    "TimeTable": "timing.table",
    "compare_depths": "gauge",
    "dry_run": "outcome",
    "plan_time": "timing.planner",
    "read_job": "job.reading",
    "read_measurements": "gauge",
    "read_program": "gcode.program",
    "remove": "removal.simulate",
}

__all__ = ["__version__", *_HOMES]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'dryrun' has no attribute {name!r}")
    value = getattr(importlib.import_module(f"dryrun.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOMES])
