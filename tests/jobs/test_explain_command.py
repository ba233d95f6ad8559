"""`explain` as a person types it: both tables, a family, JSON and nothing but JSON, exit codes."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest

from boilerfront.jobs.launch import Options, frozen_sweep, start
from boilerfront.jobs.ranges import offers, reach_of
from boilerfront.results.run_folder import RunFolder
from tests.jobs.fakes import Bench
from tests.jobs.test_cli import typed
from tests.jobs.toy import SWEEP

NOMINAL = "\n[tolerances]\nsamples = 0\n"


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> RunFolder:
    """Return a finished run of the toy, in a folder with a space and an accent."""
    folder = tmp_path_factory.mktemp("the run é")
    path = folder / "toy.toml"
    path.write_text(SWEEP + NOMINAL, encoding="utf-8")
    return start(path, folder, name="toy", options=Options(), means=Bench().means()).run


def test_open_variables_reach_as_far_as_the_sweep_lets_them(run: RunFolder) -> None:
    reach = reach_of(frozen_sweep(run).variables)
    assert reach["brew_volume_mL"] == (200.0, 800.0)
    assert reach["brew_power_W"] == (700.0, 1200.0), "a list of numbers reaches from its least to its largest"
    assert reach["architecture"] == ("dual_boiler", "dual_boiler_coil")
    assert "steam_volume_mL" not in reach, "a fixed variable may be moved as far as the model goes"


def test_a_sweep_offers_what_it_could_choose(run: RunFolder) -> None:
    ranges = frozen_sweep(run).variables
    assert offers(ranges, "brew_volume_mL", 200.0)
    assert not offers(ranges, "brew_volume_mL", 100.0)
    assert offers(ranges, "brew_power_W", 700.0)
    assert not offers(ranges, "brew_power_W", 800.0), "between two choices of a list"
    assert not offers(ranges, "steam_volume_mL", 1000.0), "a fixed variable has its own value alone"


def test_both_tables_as_text(run: RunFolder, capsys: Any, monkeypatch: Any) -> None:
    monkeypatch.setenv("COLUMNS", "110")
    assert typed("explain", run.path, 3, "--limit", 4, monkeypatch=monkeypatch) == 0
    out, err = capsys.readouterr()
    assert out.index("One variable moved") < out.index("One tolerance moved")
    assert all(len(line) <= 110 for line in out.splitlines() if "differs from the ledger" not in line)
    assert "neighbours" in err


def test_json_is_nothing_but_json(run: RunFolder, capsys: Any, monkeypatch: Any) -> None:
    assert typed("explain", run.path, 3, "--format", "json", monkeypatch=monkeypatch) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["trial"] == 3
    assert {row["name"] for row in found["variables"]} >= {"brew_power_W", "insulation_mm"}
    assert any(row["name"] == "mains voltage" for row in found["tolerances"])
    assert any("differs from the ledger" in note for note in found["notes"]), "the toy is not the model"


def test_csv_has_both_tables_in_one_file(run: RunFolder, tmp_path: Path, monkeypatch: Any) -> None:
    file = tmp_path / "effects é.csv"
    assert typed("explain", run.path, 3, "--format", "csv", "--out", file, monkeypatch=monkeypatch) == 0
    rows = list(csv.DictReader(io.StringIO(file.read_text(encoding="utf-8"))))
    assert {row["kind"] for row in rows} == {"variable", "tolerance"}


def test_a_family_is_explained(run: RunFolder, capsys: Any, monkeypatch: Any) -> None:
    monkeypatch.setenv("COLUMNS", "110")
    assert typed("explain", run.path, "--family", "dual_boiler", monkeypatch=monkeypatch) == 0
    assert "designs evaluated" in capsys.readouterr().out
    assert (
        typed("explain", run.path, "--family", "dual_boiler", "--format", "json", monkeypatch=monkeypatch)
        == 0
    )
    assert json.loads(capsys.readouterr().out)["notes"][0].startswith("dual_boiler: ")


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ([], "neither"),
        (["3", "--family", "dual_boiler"], "both"),
        (["--family", "dual_boiler", "--by", "warm_up_s"], "--by"),
        (["3", "--format", "xml"], "xml"),
        (["3", "--by", "beauty"], "beauty"),
        (["99999"], "99999"),
        (["Q"], "'Q'"),
        (["--family", "kettle"], "kettle"),
        (["thermoblock"], "--family thermoblock explains a family"),
    ],
)
def test_wrong_input_is_exit_2_with_a_word_why(
    run: RunFolder, words: list[str], wanted: str, capsys: Any, monkeypatch: Any
) -> None:
    assert typed("explain", run.path, *words, monkeypatch=monkeypatch) == 2
    out, err = capsys.readouterr()
    assert wanted in err
    assert out == ""
