"""All jobs and all mistakes."""

from __future__ import annotations

from tests.checks.heldout10 import jobs_one, jobs_two, mistakes

JOBS = (*jobs_one.JOBS, *jobs_two.JOBS)
MISTAKES = mistakes.MISTAKES
