"""The invented bench that comes with the package: what it hides is found."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from boilerfront.jobs.drafting import write_starter
from boilerfront.model.calibration import read_calibration
from boilerfront.model.fit.columns import read_columns
from boilerfront.model.fit.log_file import read_logs
from tests.jobs.test_cli import typed
from tests.model.make_bench_starter import HIDDEN, LOGS


def test_its_logs_can_be_read_and_say_that_they_are_invented(tmp_path: Path) -> None:
    folder = tmp_path / "bench"
    assert {path.name for path in write_starter("bench-230v", folder)} >= {
        "design.toml",
        "columns.toml",
        *LOGS,
    }
    logs = read_logs([folder / name for name in LOGS], read_columns(folder / "columns.toml"))
    for log in logs:
        assert log.checks["shot_C"][0][0] == "ice"
        assert "outliers" in " ".join(log.notes)
        assert (folder / log.name).read_text(encoding="utf-8").startswith("# Invented")


@pytest.mark.slow
def test_what_it_hides_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    write_starter("bench-230v", tmp_path / "bench")
    monkeypatch.chdir(tmp_path / "bench")
    files = ("--design", "design.toml", "--columns", "columns.toml", "--out", "calibration.toml")
    assert typed("calibrate", ".", "log-1.csv", "log-2.csv", *files, monkeypatch=monkeypatch) == 0
    assert "log-1.csv" in capsys.readouterr().out
    found = read_calibration(Path("calibration.toml"))
    inside = [each.low <= HIDDEN[name] <= each.high for name, each in found.coefficients.items()]
    assert sum(inside) >= len(HIDDEN) - 1  # intervals of 95 %
    assert tomllib.loads(Path("sweep.toml").read_text(encoding="utf-8"))["prices"] == "prices.csv"
