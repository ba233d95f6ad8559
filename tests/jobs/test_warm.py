"""A run that begins with an earlier run's trials: which it takes, what it says, the same after any cut."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pyarrow as pa
import pytest
from typer.testing import CliRunner

from boilerfront.jobs.cli import app
from boilerfront.jobs.launch import Options, frozen_sweep, resume
from boilerfront.jobs.repricing import reprice_run
from boilerfront.jobs.state import read_state
from boilerfront.jobs.warm import TAKEN_GENERATION
from boilerfront.results.front import front_table, read_convergence, read_front
from boilerfront.results.ledger import read_ledger
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files
from boilerfront.shared.errors import InputError
from tests.jobs.fakes import Bench
from tests.jobs.sessions import Power, begin, same_data
from tests.jobs.test_repricing import BENCH as PRICED
from tests.jobs.test_repricing import NOW, book
from tests.jobs.toy import PRICES, SWEEP

NARROW = SWEEP.replace("low = 0.2, high = 1.6", "low = 0.4, high = 1.6").replace("seed = 5", "seed = 6")


@pytest.fixture
def earlier(tmp_path: Path) -> RunFolder:
    return begin(tmp_path, "earlier", SWEEP)


def rows(run: RunFolder) -> pa.Table:
    return read_ledger(run.trials).table


def test_trials_inside_the_new_ranges_are_taken_and_the_rest_is_named(
    tmp_path: Path, earlier: RunFolder
) -> None:
    run = begin(tmp_path, "later", NARROW, source=earlier)
    record = frozen_sweep(run).run
    assert record is not None
    fitting = [
        row
        for row in rows(earlier).to_pylist()
        if row["coil_length_m"] is None or row["coil_length_m"] >= 0.4
    ]
    assert 0 < record.taken == len(fitting) < 60
    table = rows(run).to_pylist()
    assert [row["trial"] for row in table] == list(range(60 + len(fitting)))
    for there, here in zip(fitting, table, strict=False):
        own = {"trial", "generation"}
        assert {k: v for k, v in here.items() if k not in own} == {
            k: v for k, v in there.items() if k not in own
        }
        assert here["generation"] == TAKEN_GENERATION
    log = run.log.read_text(encoding="utf-8")
    assert f"took {len(fitting)} of 60 trials" in log
    assert f"{60 - len(fitting)} with another coil_length_m" in log


def test_the_budget_counts_the_own_trials_and_the_front_holds_all(tmp_path: Path, earlier: RunFolder) -> None:
    run = begin(tmp_path, "later", SWEEP.replace("seed = 5", "seed = 6"), source=earlier)
    state = read_state(run)
    assert (state.trials, state.budget) == (60, 60)
    assert read_front(run.front).equals(front_table(rows(run)), check_metadata=False)
    record = read_convergence(run.convergence)
    assert record["generation"].to_pylist() == [-1, *range(6)]
    assert record["trials"].to_pylist() == [60, 70, 80, 90, 100, 110, 120]


def test_no_design_is_in_the_ledger_twice(tmp_path: Path, earlier: RunFolder) -> None:
    run = begin(tmp_path, "later", SWEEP.replace("seed = 5", "seed = 6"), source=earlier)
    variables = ["architecture", "brew_volume_mL", "brew_power_W", "coil_length_m", "insulation_mm"]
    designs = [tuple(row.values()) for row in rows(run).select(variables).to_pylist()]
    assert len(set(designs)) == len(designs) == 120


@pytest.mark.parametrize("designs", [0, 5, 20, 47, 59])
def test_a_cut_and_a_resume_give_the_undisturbed_front(
    tmp_path: Path, earlier: RunFolder, designs: int
) -> None:
    whole = begin(tmp_path, "whole", NARROW, source=earlier)
    with pytest.raises(KeyboardInterrupt):
        begin(tmp_path, "cut", NARROW, source=earlier, bench=Bench(evaluate=Power(designs)))
    run = RunFolder(tmp_path / "runs" / "cut")
    resume(run, options=Options(), means=Bench(seed=9).means())
    same_data(whole, run)
    assert (
        read_convergence(run.convergence)
        .drop_columns("seconds")
        .equals(read_convergence(whole.convergence).drop_columns("seconds"))
    )


@pytest.mark.parametrize("moment", ["write_atomically", "move"])
def test_a_start_that_is_cut_while_it_takes_leaves_no_run_or_a_whole_one(
    tmp_path: Path, earlier: RunFolder, monkeypatch: pytest.MonkeyPatch, moment: str
) -> None:
    whole = begin(tmp_path, "whole", NARROW, source=earlier)
    original: Callable[..., None] = getattr(files, moment)

    def cut(path: Path, other: object) -> None:
        if path.name == "sweep.toml" or moment == "move":
            raise KeyboardInterrupt
        original(path, other)

    monkeypatch.setattr(files, moment, cut)
    with pytest.raises(KeyboardInterrupt):
        begin(tmp_path, "cut", NARROW, source=earlier)
    monkeypatch.undo()
    run = RunFolder(tmp_path / "runs" / "cut")
    if run.exists():
        resume(run, options=Options(), means=Bench().means())
    else:
        begin(tmp_path, "cut", NARROW, source=earlier)
    same_data(whole, run)


def test_a_run_needs_the_earlier_one_no_more(tmp_path: Path, earlier: RunFolder) -> None:
    with pytest.raises(KeyboardInterrupt):
        begin(tmp_path, "cut", NARROW, source=earlier, bench=Bench(evaluate=Power(20)))
    earlier.path.rename(tmp_path / "elsewhere")
    run = RunFolder(tmp_path / "runs" / "cut")
    resume(run, options=Options(), means=Bench().means())
    assert read_state(run).phase == "finished"


def test_figures_that_mean_something_else_are_refused(tmp_path: Path, earlier: RunFolder) -> None:
    other = SWEEP.replace("[variables]", "[tolerances]\nsamples = 16\n\n[variables]")
    with pytest.raises(InputError, match=r"tolerances\.samples: 32 there, 16 here"):
        begin(tmp_path, "later", other, source=earlier)
    assert not (tmp_path / "runs" / "later").exists()


def test_other_prices_are_refused_with_what_to_type_first(tmp_path: Path, earlier: RunFolder) -> None:
    dear = book(tmp_path, wand="99.5")
    with pytest.raises(InputError, match="boilerfront reprice"):
        begin(tmp_path, "later", SWEEP.replace(str(PRICES), str(dear)), source=earlier)


def test_nothing_that_fits_is_a_fault(tmp_path: Path, earlier: RunFolder) -> None:
    other = SWEEP.replace("low = 200, high = 800, log = true", "low = 1200, high = 1300")
    with pytest.raises(InputError, match="60 with another brew_volume_mL"):
        begin(tmp_path, "later", other, source=earlier)


def test_an_earlier_run_without_trials_is_a_fault(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        begin(tmp_path, "earlier", SWEEP, bench=Bench(evaluate=Power(0)))
    with pytest.raises(InputError, match="has no trials"):
        begin(tmp_path, "later", NARROW, source=RunFolder(tmp_path / "runs" / "earlier"))


def test_an_existing_run_takes_nothing_afterwards(tmp_path: Path, earlier: RunFolder) -> None:
    begin(tmp_path, "later", NARROW)
    with pytest.raises(InputError, match="began with no earlier trials"):
        begin(tmp_path, "later", NARROW, source=earlier)


def test_another_variable_there_or_here_leaves_the_designs_that_it_concerns(
    tmp_path: Path, earlier: RunFolder
) -> None:
    kind = 'architecture = { choices = ["dual_boiler", "dual_boiler_coil"] }'
    fewer = SWEEP.replace(kind, 'architecture = "dual_boiler"').replace(
        "coil_length_m = { low = 0.2, high = 1.6 }\n", ""
    )
    alone = begin(tmp_path, "alone", fewer, source=earlier)
    taken = [row for row in rows(alone).to_pylist() if row["generation"] == TAKEN_GENERATION]
    assert taken
    assert {row["architecture"] for row in taken} == {"dual_boiler"}
    both = begin(tmp_path, "both", SWEEP, source=alone)
    assert "took" in both.log.read_text(encoding="utf-8")


def test_faulty_trials_are_left(tmp_path: Path) -> None:
    bench = Bench(dies=lambda trial: "signal 11" if trial == 21 else None)
    earlier = begin(tmp_path, "earlier", SWEEP, bench=bench)
    run = begin(tmp_path, "later", SWEEP, source=earlier)
    assert "took 59 of 60" in run.log.read_text(encoding="utf-8")
    assert "1 with a fault" in run.log.read_text(encoding="utf-8")


def test_trials_that_were_taken_and_are_lost_are_said(tmp_path: Path, earlier: RunFolder) -> None:
    with pytest.raises(KeyboardInterrupt):
        begin(tmp_path, "cut", NARROW, source=earlier, bench=Bench(evaluate=Power(20)))
    run = RunFolder(tmp_path / "runs" / "cut")
    next(run.trials.glob("part-000000000-*")).unlink()
    with pytest.raises(InputError, match=r"trials taken from .* are lost"):
        resume(run, options=Options(), means=Bench().means())


def test_the_command_says_what_it_took(
    tmp_path: Path, earlier: RunFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BOILERFRONT_RUNS", str(tmp_path / "runs"))
    result = CliRunner().invoke(app, ["start", str(tmp_path / "earlier.toml"), "--from", "nobody"])
    assert isinstance(result.exception, InputError)
    assert "no run 'nobody'" in str(result.exception)
    result = CliRunner().invoke(app, ["status", "earlier", "--json"])
    assert json.loads(result.stdout)["ended_by"] == "finished"


def test_a_repriced_run_keeps_what_it_began_with(tmp_path: Path) -> None:
    earlier = begin(tmp_path, "earlier", SWEEP, bench=PRICED)
    later = begin(tmp_path, "later", NARROW, source=earlier, bench=PRICED)
    repriced = reprice_run(later, book(tmp_path, wand="99.5"), name=None, now=NOW).run
    kept, before = frozen_sweep(repriced).run, frozen_sweep(later).run
    assert kept is not None
    assert before is not None
    assert kept.taken == before.taken > 0
    assert read_state(repriced).phase == "finished"
    resume(repriced, options=Options(budget=70), means=PRICED.means())
    assert rows(repriced)["trial"].to_pylist() == list(range(kept.taken + 70))
