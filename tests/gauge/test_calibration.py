"""Is the diagnosis right as often as it says, and do its intervals hold the truth?

The full figures come from `tests/bench/gauge_calibration.py`; here a sample guards them.
"""

import os

import pytest

from tests.gauge.calibration import run

LONG = bool(os.environ.get("DRYRUN_LONG"))


@pytest.mark.parametrize("mode", ["declared", "usual", "fine"])
@pytest.mark.jit_only
def test_right_cause_and_honest_intervals(mode):
    """At least nine in ten right, and intervals that hold about 95 % (binomial slack for few)."""
    tally = run(500 if LONG else 40, seed=20260531, mode=mode)

    assert tally.share_right >= 0.9
    low, high = (0.93, 0.97) if LONG else (0.84, 1.0)
    assert low <= tally.share_inside <= high


@pytest.mark.jit_only
def test_probabilities_mean_what_they_say():
    """Of the diagnoses given with more than 95 %, at least 95 % are right."""
    tally = run(300 if LONG else 40, seed=77)
    sure = [right for p, right in tally.probability if p > 0.95]

    assert len(sure) > 15
    assert sum(sure) / len(sure) >= 0.95
