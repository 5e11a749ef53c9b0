"""A second held-out set of jobs with and without planted mistakes; see README.md."""
