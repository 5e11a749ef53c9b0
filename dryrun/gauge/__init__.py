"""Measured depths against predicted after the cut, and the likeliest cause.

Bytes of a measurement file go through `measurements` (a table of readings), `predict` (what each
reading should have been, and how it moves with each cause), `evidence` (which cause explains the
differences) and `diagnosis` (numbers and words). `plan` picks where to measure in the first place.
Only NumPy is needed; nothing here starts the compiler.
"""

from dryrun.gauge.diagnosis import Diagnosis, compare_depths
from dryrun.gauge.measurements import MeasurementError, Measurements, read_measurements
from dryrun.gauge.plan import Plan, plan_measurements
from dryrun.gauge.surfaces import SurfaceDeviation, compare_surfaces

__all__ = [
    "Diagnosis",
    "MeasurementError",
    "Measurements",
    "Plan",
    "SurfaceDeviation",
    "compare_depths",
    "compare_surfaces",
    "plan_measurements",
    "read_measurements",
]
