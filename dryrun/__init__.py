"""dryrun: what a G-code program will do at the router, before anyone presses start."""

__version__ = "0.1.0"
