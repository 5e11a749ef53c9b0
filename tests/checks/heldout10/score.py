"""Run dryrun on the tenth set and count: `python -m tests.checks.heldout10.score [JOB ...]`."""

from __future__ import annotations

import sys

from tests.checks.heldout5.score import dryrun_run, main
from tests.checks.heldout10.sets import JOBS, MISTAKES

if __name__ == "__main__":
    main(sys.argv[1:], dryrun_run, JOBS, MISTAKES)
