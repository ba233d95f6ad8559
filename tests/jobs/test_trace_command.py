"""`trace` as a person types it: trials, letters, designs typed by hand and in files."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq
import pytest

from boilerfront import model
from boilerfront.jobs.launch import Options, start
from boilerfront.model import Brief, Trace
from boilerfront.results.picks import keep
from boilerfront.results.run_folder import RunFolder
from tests.jobs.fakes import Bench
from tests.jobs.test_cli import typed
from tests.jobs.toy import SWEEP
from tests.results.test_trace_plot import trace

NOW = datetime(2026, 1, 31, tzinfo=UTC)


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> RunFolder:
    """Return a finished run of the toy."""
    folder = tmp_path_factory.mktemp("toy")
    path = folder / "toy.toml"
    path.write_text(SWEEP, encoding="utf-8")
    return start(path, folder, name="toy", options=Options(), means=Bench().means()).run


@pytest.fixture
def run(finished: RunFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> RunFolder:
    """Return a copy of it, from within an empty folder."""
    monkeypatch.chdir(tmp_path)
    return RunFolder(Path(shutil.copytree(finished.path, tmp_path / "toy")))


@pytest.fixture
def simulated(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """Put a quick trace in the place of the model's and return the designs that it was asked for."""
    designs: list[dict[str, Any]] = []

    def simulate(design: Mapping[str, Any], brief: Brief, *, site: str | None = None) -> Trace:
        designs.append(dict(design))
        return trace()

    monkeypatch.setattr(model, "simulate", simulate)
    return designs


def test_letters_stand_for_trials(
    run: RunFolder, simulated: list[dict[str, Any]], monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    keep(run, 7, letter="A", now=NOW)
    assert typed("trace", run.path, "a", "3", "--out", "both.parquet", monkeypatch=monkeypatch) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "both.parquet"
    labels = pq.read_table("both.parquet")["design"].unique().to_pylist()
    assert labels == ["A (trial 7)", "trial 3"]
    assert len(simulated) == 2
    assert typed("trace", run.path, "A", monkeypatch=monkeypatch) == 0
    assert Path("trace-A.png").read_bytes().startswith(b"\x89PNG")


def test_designs_in_files(
    run: RunFolder, simulated: list[dict[str, Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("é one.toml").write_text("brew_volume_mL = 321\narchitecture = 'dual_boiler'\n", encoding="utf-8")
    Path("two.toml").write_text("brew_volume_mL = 456.5\n", encoding="utf-8")
    words = ("trace", "toy", "--design", "é one.toml", "--design", "two.toml", "--set", "insulation_mm=5")
    assert typed(*words, "--out", "x.parquet", monkeypatch=monkeypatch) == 0
    assert [each["brew_volume_mL"] for each in simulated] == [321.0, 456.5]
    assert {each["insulation_mm"] for each in simulated} == {5.0}
    assert simulated[0]["coil_length_m"] is None
    assert pq.read_table("x.parquet")["design"].unique().to_pylist() == ["é one", "two"]


def test_every_fault_of_a_design_file_with_its_place(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("d.toml").write_text('coil_length_m = 9\ncoil_bore = 4\nmaterial = "gold"\n', encoding="utf-8")
    assert typed("trace", "toy", "--design", "d.toml", monkeypatch=monkeypatch) == 2
    said = capsys.readouterr().err
    assert "d.toml: coil_length_m: found 9; allowed: 0.1 to 3 m" in said
    assert "d.toml: coil_bore: found an unknown variable; allowed: did you mean 'coil_bore_mm'?" in said
    assert "d.toml: material: found 'gold'" in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["1", "2", "3"], "TRIAL: found 3 of them; allowed: one or two"),
        (["1", "--set", "insulation_mm=5"], "either trials of a run"),
        (["1", "--out", "x.gif"], "ends in .png, .csv or .parquet"),
        (["B"], "TRIAL: found 'B'"),
        (["70000"], "a trial of the run"),
        (["--design", "missing.toml"], "missing.toml: found No such file or directory"),
        (["--set", "insulation_mm"], "VAR=VALUE"),
    ],
)
def test_wrong_input_is_exit_2_before_anything_is_computed(
    run: RunFolder, words: list[str], said: str, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    def never(design: object, brief: object) -> Trace:
        raise AssertionError("computed")

    monkeypatch.setattr(model, "simulate", never)
    assert typed("trace", run.path, *words, monkeypatch=monkeypatch) == 2
    assert said in capsys.readouterr().err
