"""A third held-out set of jobs for the checks; README.md says how it was made."""

from .jobs_other import OTHER
from .jobs_wood import WOOD
from .mistakes import MISTAKES

JOBS = {made.name: made for made in (maker() for maker in (*WOOD, *OTHER))}

__all__ = ["JOBS", "MISTAKES"]
