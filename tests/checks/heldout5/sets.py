"""All jobs and all mistakes."""

from __future__ import annotations

from tests.checks.heldout5 import jobs_one, jobs_two

JOBS = (*jobs_one.JOBS, *jobs_two.JOBS)
MISTAKES = (*jobs_one.MISTAKES, *jobs_two.MISTAKES)
