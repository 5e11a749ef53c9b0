"""`python -m dryrun` is the same as `dryrun`."""

from dryrun.cli import run

if __name__ == "__main__":
    run()
