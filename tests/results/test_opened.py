"""A run in a notebook: frames with units, whatever state the run is in."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from boilerfront.model.glossary import OBJECTIVES
from boilerfront.results import open_run
from boilerfront.results.front import front_table, write_front
from boilerfront.results.ledger import Ledger, read_ledger
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared.errors import InputError
from tests.results.rows import SCHEMA, rows

SWEEP = """
[variables]
architecture = { choices = ["dual_boiler", "dual_boiler_coil"] }
brew_volume_mL = { low = 200.0, high = 800.0 }
"brew_power_W@us" = 900.0
gone_since = 1.0

[sites.eu]
[sites.us]

[prices]
currency = "EUR"
"""


@pytest.fixture
def run(tmp_path: Path) -> RunFolder:
    """Return a run whose first generation is closed, the second open, and whose front is that of the first."""
    folder = RunFolder(tmp_path / "demo")
    ledger = Ledger(folder.trials, SCHEMA)
    ledger.write_task(0, 0, rows(range(100)))
    write_front(folder.front, front_table(ledger.close_generation(0)))
    ledger.write_task(1, 0, rows(range(100, 150)))
    folder.sweep_file.write_text(SWEEP)
    return folder


def test_frames_with_units(run: RunFolder) -> None:
    opened = open_run(run.path)
    assert opened.name == "demo"
    trials = opened.trials()
    assert trials["trial"].tolist() == list(range(150))
    assert trials.attrs["units"]["warm_up_s"] == "s"
    assert trials.attrs["messages"] == ()
    ours = read_ledger(run.trials).table
    for name in OBJECTIVES:
        expected = pd.Series(ours[name].to_pylist(), dtype=float, name=name)
        pd.testing.assert_series_equal(trials[name], expected)
    front = opened.front()
    assert front["trial"].tolist() == pd.read_parquet(run.front)["trial"].tolist()
    assert front.attrs["units"] == opened.units
    assert opened.units["energy_kWh_day"] == "kWh"


def test_what_the_columns_are(run: RunFolder) -> None:
    columns = open_run(run.path).columns()
    assert list(columns.index) == SCHEMA.names
    warm_up = columns.loc["warm_up_s"]
    assert (warm_up["unit"], warm_up["samples"]) == ("s", "8")
    assert "cold switch-on" in warm_up["meaning"]


def test_a_front_that_is_missing_or_spoilt_is_computed(run: RunFolder) -> None:
    expected = front_table(read_ledger(run.trials).table)["trial"].to_pylist()
    run.front.write_bytes(b"torn")
    front = open_run(run.path).front()
    assert front["trial"].tolist() == expected
    assert "computed again" in front.attrs["messages"][0]
    run.front.unlink()
    assert open_run(run.path).front()["trial"].tolist() == expected


def test_before_the_first_designs_there_are_columns_and_no_rows(tmp_path: Path) -> None:
    folder = RunFolder(tmp_path / "new")
    folder.path.mkdir()
    folder.sweep_file.write_text(SWEEP)
    opened = open_run(folder.path)
    for frame in (opened.front(), opened.trials()):
        assert len(frame) == 0
        assert {"trial", "brew_volume_mL", "brew_power_W@us", "warm_up_s@eu", *OBJECTIVES} <= set(frame)
        assert "gone_since" not in frame
        assert frame.attrs["units"]["part_cost"] == "EUR"
    assert opened.units["warm_up_s@us"] == "s"
    folder.sweep_file.write_text("no = = toml")
    with pytest.raises(InputError, match="frozen sweep"):
        opened.front()


def test_a_part_that_is_torn_is_named(run: RunFolder) -> None:
    part = next(run.trials.glob("part-*"))
    part.write_bytes(part.read_bytes()[:-40])
    trials = open_run(run.path).trials()
    assert trials["trial"].tolist() == list(range(100, 150))
    assert part.name in trials.attrs["messages"][0]


def test_no_run(run: RunFolder) -> None:
    with pytest.raises(InputError, match="there is no run"):
        open_run(run.path / "nowhere")
