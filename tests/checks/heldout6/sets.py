"""All jobs and all mistakes."""

from __future__ import annotations

from tests.checks.heldout6 import jobs_one, jobs_three, jobs_two

JOBS = (*jobs_one.JOBS, *jobs_two.JOBS, *jobs_three.JOBS)
MISTAKES = (*jobs_one.MISTAKES, *jobs_two.MISTAKES, *jobs_three.MISTAKES)
