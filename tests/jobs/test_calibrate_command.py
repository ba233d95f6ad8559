"""`calibrate` as a person types it, on a log that a ramp and its lagging sensor make."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from boilerfront.jobs.frozen import differences, frozen_toml, sweep_hash
from boilerfront.jobs.sweep import load_sweep
from boilerfront.model.calibration import read_calibration
from tests.jobs.test_cli import typed
from tests.jobs.toy import SWEEP

DESIGN = 'architecture = "dual_boiler"\nbrew_volume_mL = 500.0\n'


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder with a sweep, a design and a log of heating up."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "toy.toml").write_text(SWEEP, encoding="utf-8")
    (tmp_path / "design.toml").write_text(DESIGN, encoding="utf-8")
    rng = np.random.default_rng(1)
    rows = ["time_s,brew_sensor_C,group_sensor_C,steam_sensor_C,brew_power_W,group_power_W,steam_power_W"]
    for k in range(1, 241):
        brew, group, steam = (22.0 + rate * max(k - 15, 0) for rate in (0.25, 0.1, 0.3))
        noise = 0.05 * rng.standard_normal(3)
        rows.append(f"{k},{brew + noise[0]:.2f},{group + noise[1]:.2f},{steam + noise[2]:.2f},600,100,1200")
    (tmp_path / "log.csv").write_text("\n".join(rows), encoding="utf-8")
    return tmp_path


def test_it_writes_a_calibration_that_a_sweep_takes(
    bench: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    words = ("calibrate", "toy.toml", "log.csv", "--design", "design.toml", "--out", "cal.toml")
    assert typed(*words, "--fit", "brew_lag_s,mixing", monkeypatch=monkeypatch) == 0
    shown = capsys.readouterr().out
    assert shown.splitlines()[-2:] == ["cal.toml", "cal.png"]
    assert "brew_lag_s" in shown
    assert (bench / "cal.png").read_bytes().startswith(b"\x89PNG")
    found = read_calibration(bench / "cal.toml")
    assert set(found.coefficients) == {"brew_lag_s", "mixing"}
    assert found.logs == ("log.csv",)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        (("--fit", "coil_inside"), "--fit: found coil_inside; allowed: brew_loss"),
        (("--out", "cal.txt"), "a name that ends in .toml"),
        (("--out", "none/cal.toml"), "a folder that is there"),
        (("--columns", "none.toml"), "a TOML file of the log's columns"),
        (("--design", "none.toml"), "none.toml"),
    ],
)
def test_bad_input_is_said(
    bench: Path, changed: tuple[str, str], said: str, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    words = {"--design": "design.toml", "--out": "cal.toml"} | dict([changed])
    typed_words = [word for pair in words.items() for word in pair]
    assert typed("calibrate", "toy.toml", "log.csv", *typed_words, monkeypatch=monkeypatch) == 2
    assert said in capsys.readouterr().err
    assert not (bench / "cal.toml").exists()


def test_a_sweep_without_calibration_keeps_its_hash_and_one_with_it_has_another(bench: Path) -> None:
    plain = load_sweep(bench / "toy.toml")
    (bench / "cal.toml").write_text(
        "[coefficients.brew_loss]\nvalue = 1.2\nlow = 1.1\nhigh = 1.3\n"
        "[coefficients.brew_lag_s]\nvalue = 6.0\nlow = 5.0\nhigh = 7.0\n",
        encoding="utf-8",
    )
    (bench / "with.toml").write_text('calibration = "cal.toml"\n' + SWEEP, encoding="utf-8")
    corrected = load_sweep(bench / "with.toml")
    assert sweep_hash(plain) != sweep_hash(corrected)
    assert any(fault.where.startswith("calibration") for fault in differences(plain, corrected))
    assert corrected.machine.control.brew_lag_s == 6.0  # loops are tuned for it
    frozen = frozen_toml(corrected)
    assert tomllib.loads(frozen)["calibration"]["coefficients"]["brew_loss"]["value"] == 1.2
    (bench / "frozen.toml").write_text(frozen, encoding="utf-8")
    assert sweep_hash(load_sweep(bench / "frozen.toml")) == sweep_hash(corrected)
    assert "calibration" not in tomllib.loads(frozen_toml(plain))
