"""The fourth held-out set: jobs and planted mistakes by someone who had not read the checks."""
