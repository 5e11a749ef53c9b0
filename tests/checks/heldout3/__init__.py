"""A third held-out set of jobs for the checks; README.md says how it was made and what it scored."""
