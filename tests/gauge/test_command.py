"""The command, with a simulated job in place of a file."""

import json
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner

import dryrun.cli.gauge as module
from tests.gauge.shop import Fault, Machine, choose_sites, measure, small_trivet


@pytest.fixture
def shop(monkeypatch):
    made = small_trivet()
    outcome = made.outcome()
    monkeypatch.setattr(module, "_outcome", lambda job_file, declared, cell: outcome)
    return made


def call(*arguments):
    return CliRunner().invoke(module.command, [str(a) for a in arguments])


@pytest.fixture
def measured(shop, tmp_path):
    rng = np.random.default_rng(0)
    m = measure(shop, Machine(shop, Fault(z_zero=-0.18)), choose_sites(shop, 14, rng), rng)
    rows = ["x,y,kind,value,uncertainty,direction,who"]
    for i in range(len(m)):
        turn = "" if np.isnan(m.direction[i]) else m.direction[i]
        rows.append(f"{m.x[i]},{m.y[i]},{m.kind[i]},{m.value[i]},0.02,{turn},me")
    path = tmp_path / "measured.csv"
    path.write_text("\n".join(rows))
    return path


def test_plan_writes_sheet_page_and_picture(shop, tmp_path):
    """All three files are written; nothing but them."""
    result = call("plan", "job.toml", "--sheet", tmp_path / "s.csv", "--page", tmp_path / "p.html",
                  "--picture", tmp_path / "p.png")  # fmt: skip

    assert result.exit_code == 0, result.output
    assert (tmp_path / "s.csv").read_text().startswith("point,x,y,kind,value")
    assert "<table>" in (tmp_path / "p.html").read_text()
    assert (tmp_path / "p.png").read_bytes()[:4] == b"\x89PNG"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["p.html", "p.png", "s.csv"]


def test_plan_prints_the_sheet(shop):
    """Without a file the sheet goes to standard output."""
    result = call("plan", "job.toml", "--points", "7")

    assert len(result.stdout.strip().splitlines()) == 8


def test_compare_says_the_verdict(measured):
    """Text names the cause, each point, and what to do; a column of no meaning is noted."""
    result = call("compare", "job.toml", measured)

    assert result.exit_code == 0, result.output
    assert "Z zero was set 0.1" in result.stdout
    assert "what to do: check the gauge's own zero" in result.stdout
    assert "column 'who' means nothing here" in result.stderr


def test_compare_as_json(measured, tmp_path):
    """JSON is schema 1, on standard output or in a file."""
    result = call("compare", "job.toml", measured, "--format", "json")
    call("compare", "job.toml", measured, "--format", "json", "-o", tmp_path / "o.json")

    assert json.loads(result.stdout)["causes"][0]["cause"] == "z-zero"
    assert json.loads((tmp_path / "o.json").read_text())["schema"] == 1


def test_history_and_drift(shop, measured, tmp_path):
    """Three cuts, each deeper, are a drift in the output."""
    for k in range(4):
        rows = measured.read_text().splitlines()
        body = [r.split(",") for r in rows[1:]]
        for cells in body:
            if cells[2] == "depth":
                cells[3] = str(float(cells[3]) + 0.05)
        measured.write_text("\n".join([rows[0], *(",".join(c) for c in body)]))
        result = call("compare", "job.toml", measured, "--history", tmp_path,
                      "--date", f"2026-05-0{k + 1}", "--picture", tmp_path / "r.png")  # fmt: skip
    assert result.exit_code == 0, result.output
    assert "over 4 jobs depth_error_mm -0.05" in result.stdout
    assert (tmp_path / "r.png").exists()
    assert not list(tmp_path.glob(".*"))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("compare", "job.toml", "none.csv"), "none.csv: No such file"),
        (("compare", "job.toml", "MEASURED", "--date", "today"), "--date: 'today'"),
        (("plan", "job.toml", "--foot", "big"), "--foot"),
        (("plan", "job.toml", "--foot", "0 mm"), "foot and base must be above zero"),
        (("compare", "job.toml"), "MEASURED.csv"),
    ],
)
def test_faults_end_with_code_2(measured, arguments, words):
    """One clear message and exit code 2."""
    result = call(*(measured if a == "MEASURED" else a for a in arguments))

    assert result.exit_code == 2
    assert words in result.stderr


def test_job_without_a_blank(monkeypatch, measured):
    """A job that declares no blank is unusable here."""
    nothing = SimpleNamespace(
        job=SimpleNamespace(stock=None, units="mm", title="bare"), surface=None, stages=()
    )
    monkeypatch.setattr(module, "_outcome", lambda job_file, declared, cell: nothing)

    for arguments in (("plan", "job.toml"), ("compare", "job.toml", measured)):
        result = call(*arguments)
        assert result.exit_code == 2
        assert "declares no blank" in result.stderr
