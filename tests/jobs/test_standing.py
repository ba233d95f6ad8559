"""Picks of a run are rated again as a run of another calibration rates."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from boilerfront.jobs import standing
from boilerfront.jobs.launch import Options, start
from boilerfront.results.picks import keep
from boilerfront.results.run_folder import RunFolder
from tests.jobs.fakes import Bench
from tests.jobs.test_cli import typed
from tests.jobs.toy import SWEEP, toy

NOW = datetime(2026, 1, 31, tzinfo=UTC)
CALIBRATION = "[coefficients.brew_loss]\nvalue = 1.5\nlow = 1.4\nhigh = 1.6\n"


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, RunFolder]:
    """Return a run before and one after a calibration, both of the toy."""
    folder = tmp_path_factory.mktemp("standing")
    (folder / "cal.toml").write_text(CALIBRATION, encoding="utf-8")
    found = {}
    for name, text in (("old", SWEEP), ("new", 'calibration = "cal.toml"\n' + SWEEP)):
        path = folder / f"{name}.toml"
        path.write_text(text, encoding="utf-8")
        found[name] = start(path, folder / "runs", name=name, options=Options(), means=Bench().means()).run
    return found


def best(run: RunFolder) -> int:
    import pyarrow.parquet as pq

    return int(pq.read_table(run.path / "front.parquet")["trial"][0].as_py())


def test_a_pick_stands_or_fails_and_says_why(
    runs: dict[str, RunFolder], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    keep(runs["old"], best(runs["old"]), letter="A", now=NOW)
    monkeypatch.setattr(standing, "evaluate_many", toy)
    said = list(standing.standing_picks(list(runs.values())))
    assert len(said) == 1
    assert said[0].startswith("A (trial ")
    assert "of old, rated as in new: stands (shot_deviation_K" in said[0]
    monkeypatch.setattr(
        standing,
        "evaluate_many",
        lambda designs, brief: [
            {**row, "feasible": False, "margin_steam_s": -3.0} for row in toy(designs, brief)
        ],
    )
    assert "no longer stands" in next(standing.standing_picks(list(runs.values())))
    worse = {"shot_deviation_K": 9.0, "warm_up_s": 9e3, "energy_kWh_day": 9.0, "part_cost": 9e3}
    monkeypatch.setattr(
        standing, "evaluate_many", lambda designs, brief: [{**row, **worse} for row in toy(designs, brief)]
    )
    root = runs["old"].path.parent
    assert typed("compare", "old", "new", "--runs", root, monkeypatch=monkeypatch) == 0
    shown = capsys.readouterr().out
    assert "is beaten by trial" in shown
    assert "calibration" in shown


def test_runs_of_one_calibration_are_not_rated_again(runs: dict[str, RunFolder]) -> None:
    assert list(standing.standing_picks([runs["old"], runs["old"]])) == []


def test_a_frozen_run_holds_its_calibration(runs: dict[str, RunFolder], tmp_path: Path) -> None:
    frozen = runs["new"].sweep_file.read_text(encoding="utf-8")
    assert "[calibration.coefficients" in frozen
    assert "calibration" not in runs["old"].sweep_file.read_text(encoding="utf-8")
