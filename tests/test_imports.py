"""What starting up costs: heavy packages are loaded only by what needs them."""

import subprocess
import sys

import pytest

HEAVY = {
    "numba",
    "llvmlite",
    "pyvista",
    "vtk",
    "vtkmodules",
    "trimesh",
    "scipy",
    "PIL",
    "matplotlib",
    "distributed",
    "dask",
}


def loaded(code: str) -> set[str]:
    """Return the top-level modules a fresh interpreter has after running code."""
    script = (
        f"{code}\nimport sys\nprint('\\n'.join(sorted({{m.split('.')[0] for m in sys.modules}})))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=600
    )
    return set(done.stdout.split())


@pytest.mark.parametrize(
    "code",
    [
        "import dryrun",
        "import dryrun; dryrun.read_program",
        "import dryrun; dryrun.read_job",
        "from click.testing import CliRunner; from dryrun.cli.main import group\n"
        "assert CliRunner().invoke(group, ['--help']).exit_code == 0",
        "from click.testing import CliRunner; from dryrun.cli.main import group\n"
        "assert CliRunner().invoke(group, ['explain', 'too-deep']).exit_code == 0",
        "from click.testing import CliRunner; from dryrun.cli.main import group\n"
        "assert CliRunner().invoke(group, ['batch', '--help']).exit_code == 0",
    ],
)
def test_start_is_light(code: str) -> None:
    """Importing, reading and asking for help load no heavy package."""
    assert not loaded(code) & HEAVY


def test_public_names_are_there() -> None:
    """Every name in `__all__` can be had, and `dir` lists it."""
    import dryrun

    for name in dryrun.__all__:
        assert getattr(dryrun, name) is not None
        assert name in dir(dryrun)
    with pytest.raises(AttributeError, match="nonsense"):
        dryrun.nonsense  # noqa: B018


def test_version_is_the_installed_one() -> None:
    """The package says the version its metadata says."""
    from importlib.metadata import version

    import dryrun

    assert version("dryrun") == dryrun.__version__
