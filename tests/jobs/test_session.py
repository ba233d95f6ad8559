"""A run from its sweep file to its front, with an invented model and workers in this process."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pyarrow as pa
import pytest

from boilerfront.jobs.launch import Options, resume
from boilerfront.jobs.state import read_state
from boilerfront.jobs.work import Design, Row
from boilerfront.model.brief import Brief
from boilerfront.results.front import feasible_count, front_table, read_convergence, read_front
from boilerfront.results.ledger import Ledger, part_names
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared.errors import InputError, StoppedEarlyError
from tests.jobs.fakes import Bench
from tests.jobs.sessions import Power, numbers, run_whole, same_data, trials
from tests.jobs.toy import toy


def test_a_run_leaves_ledger_front_convergence_state_and_log(sweep_file: Path) -> None:
    run = run_whole(sweep_file, "a")
    assert numbers(run) == list(range(60))
    assert {name.kind for name in part_names(run.trials)} == {"part"}
    front = read_front(run.front)
    assert 3 < front.num_rows < 60
    assert all(front["feasible"].to_pylist())
    assert read_convergence(run.convergence)["trials"].to_pylist() == [10, 20, 30, 40, 50, 60]
    state = read_state(run)
    assert (state.phase, state.trials, state.front) == ("finished", 60, front.num_rows)
    log = run.log.read_text(encoding="utf-8")
    assert "60 designs to evaluate" in log
    assert "finished" in log


def test_masked_variables_are_null_and_reasons_keep_objectives_null(sweep_file: Path) -> None:
    rows = trials(run_whole(sweep_file, "a")).to_pylist()
    assert any(row["architecture"] == "dual_boiler" for row in rows)
    assert all((row["coil_length_m"] is None) == (row["architecture"] == "dual_boiler") for row in rows)
    never = [row for row in rows if row["reason"] == "not ready"]
    assert never
    assert all(row["warm_up_s"] is None and not row["feasible"] and row["fault"] is None for row in never)


@pytest.mark.parametrize(("workers", "seed"), [(1, 1), (3, 2), (8, 3)])
def test_the_same_front_with_any_number_of_workers(sweep_file: Path, workers: int, seed: int) -> None:
    same_data(run_whole(sweep_file, "a"), run_whole(sweep_file, "b", Bench(workers=workers, seed=seed)))


@pytest.mark.parametrize("designs", [0, 5, 20, 47, 59])
def test_a_cut_and_a_resume_give_the_undisturbed_front(sweep_file: Path, designs: int) -> None:
    whole = run_whole(sweep_file, "whole")
    with pytest.raises(KeyboardInterrupt):
        run_whole(sweep_file, "cut", Bench(evaluate=Power(designs)))
    run = RunFolder(sweep_file.parent / "runs" / "cut")
    assert read_state(run).phase in ("died", "new")
    before = set(numbers(run)) if trials(run).num_rows else set()
    asked: list[int] = []

    def counted(designs: Sequence[Design], brief: Brief) -> list[Row]:
        asked.append(len(designs))
        return toy(designs, brief)

    resume(run, options=Options(), means=Bench(evaluate=counted, seed=9).means())
    assert sum(asked) == 60 - len(before)  # nothing evaluated is evaluated again
    same_data(whole, run)


def test_more_budget_is_as_if_asked_for_at_once(sweep_file: Path) -> None:
    whole = run_whole(sweep_file, "whole")
    short = run_whole(sweep_file, "short", budget=37)
    assert numbers(short) == list(range(37))
    resume(short, options=Options(budget=60), means=Bench().means())
    same_data(whole, short)


def test_another_seed_is_another_search(sweep_file: Path) -> None:
    one, other = run_whole(sweep_file, "a"), run_whole(sweep_file, "b", seed=6)
    assert not trials(one)["brew_volume_mL"].equals(trials(other)["brew_volume_mL"])


def test_a_crash_is_one_faulty_trial_and_innocent_ones_carry_none(sweep_file: Path) -> None:
    run = run_whole(sweep_file, "a", Bench(dies=lambda trial: "signal 11" if trial == 21 else None))
    rows = trials(run).to_pylist()
    assert [row["trial"] for row in rows if row["fault"] is not None] == [21]
    assert rows[21]["warm_up_s"] is None
    assert rows[21]["brew_volume_mL"] is not None
    assert len(rows) == 60


def test_a_number_that_is_none_is_a_fault(sweep_file: Path) -> None:
    def broken(designs: Sequence[Design], brief: Brief) -> list[Row]:
        rows = toy(designs, brief)
        return [{**row, "warm_up_s": float("nan")} if "warm_up_s" in row else row for row in rows]

    rows = trials(run_whole(sweep_file, "a", Bench(evaluate=broken), budget=16)).to_pylist()
    assert any("not a finite number: warm_up_s" in (row["fault"] or "") for row in rows)
    assert not any(row["feasible"] for row in rows)


def test_a_cut_between_part_and_record_leaves_no_hole_in_the_record(
    sweep_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = RunFolder(sweep_file.parent / "runs" / "a")
    close_generation = Ledger.close_generation

    def cut(self: Ledger, generation: int) -> pa.Table:
        table = close_generation(self, generation)
        if generation == 2:
            raise KeyboardInterrupt
        return table

    monkeypatch.setattr(Ledger, "close_generation", cut)
    with pytest.raises(KeyboardInterrupt):
        run_whole(sweep_file, "a")
    monkeypatch.undo()
    assert read_convergence(run.convergence)["generation"].to_pylist() == [0, 1]
    resume(run, options=Options(), means=Bench().means())
    whole = run_whole(sweep_file, "whole")
    same = [read_convergence(each.convergence).drop_columns("seconds") for each in (whole, run)]
    assert same[0].equals(same[1])


def test_a_resumed_run_shows_at_once_what_it_has(sweep_file: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        run_whole(sweep_file, "a", Bench(evaluate=Power(40)))
    run = RunFolder(sweep_file.parent / "runs" / "a")
    there = trials(run)
    shown: list[tuple[int, int]] = []

    def looking(designs: Sequence[Design], brief: Brief) -> list[Row]:
        state = read_state(run)
        shown.append((state.front, state.feasible))
        return toy(designs, brief)

    resume(run, options=Options(), means=Bench(evaluate=looking).means())
    assert shown[0] == (front_table(there).num_rows, feasible_count(there))


# What the ledger lost


def test_a_part_that_is_lost_while_the_run_goes_on_is_noticed(sweep_file: Path) -> None:
    run = RunFolder(sweep_file.parent / "runs" / "a")

    def losing(designs: Sequence[Design], brief: Brief) -> list[Row]:
        for name in part_names(run.trials):
            if name.kind == "part" and name.first == 10:
                name.path.write_bytes(b"spoilt")
        return toy(designs, brief)

    with pytest.raises(StoppedEarlyError, match="10 trials"):
        run_whole(sweep_file, "a", Bench(evaluate=losing))
    assert read_state(run).phase == "stopped"
    assert "set aside" in run.log.read_text(encoding="utf-8")
    resume(run, options=Options(), means=Bench().means())
    same_data(run_whole(sweep_file, "whole"), run)


@pytest.mark.parametrize("damage", ["deleted", "cut"])
def test_a_finished_run_whose_ledger_lost_a_part_is_made_whole(sweep_file: Path, damage: str) -> None:
    whole, run = run_whole(sweep_file, "whole"), run_whole(sweep_file, "a")
    part = part_names(run.trials)[2].path
    if damage == "deleted":
        part.unlink()
    else:
        part.write_bytes(part.read_bytes()[:500])
    with pytest.raises(InputError, match="boilerfront resume"):
        run_whole(sweep_file, "a")
    resume(run, options=Options(), means=Bench().means())
    same_data(whole, run)
    assert read_state(run).phase == "finished"


# Folder rules
