"""The report for programs: JSON (schema 1) and SARIF 2.1.0."""

from __future__ import annotations

import hashlib
import math
from collections import Counter
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

import dryrun
from dryrun.checks.catalogue import catalogue
from dryrun.checks.run import Accepted
from dryrun.checks.suppression import IN_JOB_FILE
from dryrun.finding import Finding
from dryrun.outcome import Outcome, StageOutcome
from dryrun.report.replay import replay_record


def as_json(outcome: Outcome, settings: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """Return the outcome as the documented JSON object; lengths in mm, times in s.

    `settings` is what was asked for beyond the files, for the record that lets it be done again.
    """
    result = _result_of(outcome)
    return {**result, "replay": replay_record(outcome, result, settings)}


def _result_of(outcome: Outcome) -> dict[str, Any]:
    return {
        "schema": 1,
        "dryrun": dryrun.__version__,
        "job": outcome.job.title,
        "units": outcome.job.units,
        "worst": outcome.worst,
        "findings": [finding_json(f) for f in outcome.findings],
        "accepted": [
            {**finding_json(a.finding), "reason": a.reason, "by": a.where} for a in outcome.accepted
        ],
        "not_run": [_not_run(n.code, n.needs, n.stages) for n in outcome.not_run],
        "stages": [_stage(s) for s in outcome.stages],
        "surface": _surface(outcome),
    }


def _not_run(code: str, needs: str, stages: tuple[int, ...]) -> dict[str, Any]:
    return {"code": code, "needs": needs, **({"stages": list(stages)} if stages else {})}


def number(value: float | None, digits: int = 6) -> float | None:
    """Round a number for output; NaN and infinity, which JSON lacks, become null."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits) + 0.0


def finding_json(finding: Finding) -> dict[str, Any]:
    """Return a finding as plain data."""
    return {
        "code": finding.code,
        "level": finding.level,
        "message": finding.message,
        "file": finding.file,
        "line": finding.line,
        "column": finding.column,
        "stage": finding.stage,
        "at": None if finding.at is None else [number(v) for v in finding.at],
        "value": number(finding.value),
        "limit": number(finding.limit),
        "unit": finding.unit,
        "count": finding.count,
        "help": finding.help,
    }


def _stage(stage: StageOutcome) -> dict[str, Any]:
    bounds = stage.bounds
    time = stage.time
    return {
        "name": stage.stage.name,
        "program": stage.program.name,
        "bit": stage.stage.bit.name if stage.stage.bit else None,
        "seconds": number(time.seconds),
        "cutting_seconds": number(time.cutting_seconds),
        "rapid_seconds": number(time.rapid_seconds),
        "other_seconds": number(time.other_seconds),
        "naive_seconds": number(time.naive_seconds),
        "path_mm": number(stage.path_mm),
        "removed_mm3": number(stage.removed_mm3) if stage.facts is not None else None,
        "lowest": number(stage.lowest),
        "bounds": None if bounds is None else [[number(v) for v in corner] for corner in bounds],
        "lines": stage.program.lines,
        "assumptions": list(stage.program.assumptions),
    }


def _surface(outcome: Outcome) -> dict[str, Any] | None:
    surface = outcome.surface
    if surface is None:
        return None
    return {
        "cell": number(surface.cell),
        "lowest": number(surface.lowest),
        "removed_mm3": number(outcome.removed_mm3),
        "between_cells_mm": number(outcome.between_cells),
        "chord_mm": outcome.chord,
    }


# ---------------------------------------------------------------- SARIF


def as_sarif(outcome: Outcome, settings: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """Return the outcome as SARIF 2.1.0 (OASIS); columns count Unicode code points."""
    rules = list(catalogue().values())
    index = {entry.code: i for i, entry in enumerate(rules)}
    seen: Counter[tuple[str, str]] = Counter()
    results = [_result(f, index, seen) for f in outcome.findings]
    results += [_result(a.finding, index, seen) | _accepted(a) for a in outcome.accepted]
    run = {
        "tool": {
            "driver": {
                "name": "dryrun",
                "version": dryrun.__version__,
                "rules": [
                    {
                        "id": entry.code,
                        "shortDescription": {"text": entry.title},
                        "fullDescription": {"text": entry.checks},
                        "help": {"text": f"{entry.why} {entry.do}"},
                        "defaultConfiguration": {"level": entry.level},
                    }
                    for entry in rules
                ],
            }
        },
        "columnKind": "unicodeCodePoints",
        "originalUriBaseIds": {"JOB": {"description": {"text": "the folder of the job"}}},
        "invocations": [{"executionSuccessful": True}],
        "results": results,
        "properties": {"replay": replay_record(outcome, _result_of(outcome), settings)},
    }
    return {
        "$schema": "https://docs.oasis-open.org/sarif/sarif/v2.1.0/os/schemas/sarif-schema-2.1.0.json",
        "version": "2.1.0",
        "runs": [run],
    }


def _result(
    finding: Finding, index: dict[str, int], seen: Counter[tuple[str, str]]
) -> dict[str, Any]:
    text = " ".join((finding.excerpt or "").split())
    ordinal = seen[finding.code, text]
    seen[finding.code, text] += 1
    key = f"{finding.code}\0{text}\0{ordinal}"
    result: dict[str, Any] = {
        "ruleId": finding.code,
        "ruleIndex": index[finding.code],
        "level": finding.level,
        "message": {"text": finding.message},
        "partialFingerprints": {"dryrun/v1": hashlib.sha256(key.encode()).hexdigest()[:32]},
    }
    if finding.file:
        location: dict[str, Any] = {
            "artifactLocation": {
                "uri": quote(finding.file.replace("\\", "/")),
                "uriBaseId": "JOB",
            }
        }
        if finding.line:
            region = {"startLine": finding.line}
            if finding.column:
                region["startColumn"] = max(1, finding.column)
            if finding.column and finding.end_column:
                region["endColumn"] = max(finding.column + 1, finding.end_column)
            location["region"] = region
        result["locations"] = [{"physicalLocation": location}]
    return result


def _accepted(accepted: Accepted) -> dict[str, Any]:
    """Return who accepts a finding and why: a comment is in the source, a job file is not."""
    kind = "external" if accepted.where == IN_JOB_FILE else "inSource"
    return {"suppressions": [{"kind": kind, "justification": accepted.reason}]}
