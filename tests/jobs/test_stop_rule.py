"""The rule that ends a search which finds nothing better: when, at the same place always, and that it is said."""

from __future__ import annotations

from pathlib import Path

import pytest

from boilerfront.jobs.launch import Options, resume
from boilerfront.jobs.state import read_state
from boilerfront.jobs.stop_rule import StopRule
from boilerfront.jobs.sweep import Stop, load_sweep
from boilerfront.results.front import read_convergence
from boilerfront.results.ledger import read_ledger
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared.errors import InputError
from tests.jobs.fakes import Bench
from tests.jobs.sessions import Power, begin, same_data
from tests.jobs.toy import SWEEP

STOPPING = SWEEP.replace("budget = 60", "budget = 400") + "\n[stop]\nno_better_than = 0.02\ngenerations = 3\n"


def test_it_speaks_when_the_growth_over_its_generations_is_too_small() -> None:
    rule = StopRule(Stop(no_better_than=0.1, generations=2))
    assert [rule.note(*each) for each in enumerate((1.0, 1.0, 1.2, 1.2, 1.3))] == [
        False,
        False,
        False,
        False,
        True,
    ]


def test_before_there_is_a_front_it_waits() -> None:
    rule = StopRule(Stop(generations=1))
    assert [rule.note(*each) for each in enumerate((None, None, 0.0, 0.0, 0.5, 0.5))] == [False] * 5 + [True]


def test_generations_that_were_not_looked_at_do_not_count() -> None:
    rule = StopRule(Stop(no_better_than=0.1, generations=4))
    given = [(0, 1.0), (3, 1.3), (4, None), (6, 1.35), (9, 1.36), (12, 1.4)]
    assert [rule.note(*each) for each in given] == [False, False, False, False, True, True]


def test_without_a_section_it_never_speaks() -> None:
    rule = StopRule(None)
    assert not any(rule.note(generation, 1.0) for generation in range(100))


@pytest.mark.parametrize("lag", [0, 1])
def test_the_search_ends_early_and_says_why(tmp_path: Path, lag: int) -> None:
    run = begin(tmp_path, "a", STOPPING.replace("seed = 5", f"seed = 5\nlag = {lag}"))
    state = read_state(run)
    assert (state.phase, state.ended_by) == ("finished", "no_better")
    assert 50 < state.trials < 400
    assert "no better than 2 % in the last 3 generations" in state.why
    assert state.why in run.log.read_text(encoding="utf-8")
    volumes = read_convergence(run.convergence)["hypervolume"].to_pylist()
    decided = len(volumes) - 1 - lag  # the generation planned meanwhile is brought to its end
    assert volumes[decided] / volumes[decided - 3] - 1 <= 0.02
    for earlier in range(4, decided):
        if volumes[earlier - 3]:
            assert volumes[earlier] / volumes[earlier - 3] - 1 > 0.02


@pytest.mark.parametrize(("workers", "seed"), [(1, 1), (3, 2), (8, 3)])
def test_it_ends_at_the_same_design_with_any_number_of_workers(
    tmp_path: Path, workers: int, seed: int
) -> None:
    same_data(
        begin(tmp_path, "a", STOPPING),
        begin(tmp_path, "b", STOPPING, bench=Bench(workers=workers, seed=seed)),
    )


@pytest.mark.parametrize("designs", [45, 81, 99])
def test_it_ends_at_the_same_design_after_a_cut(tmp_path: Path, designs: int) -> None:
    whole = begin(tmp_path, "whole", STOPPING)
    assert read_ledger(whole.trials).table.num_rows > designs
    with pytest.raises(KeyboardInterrupt):
        begin(tmp_path, "cut", STOPPING, bench=Bench(evaluate=Power(designs)))
    run = RunFolder(tmp_path / "runs" / "cut")
    resume(run, options=Options(), means=Bench(seed=4).means())
    same_data(whole, run)
    assert read_state(run).ended_by == "no_better"


def test_a_run_that_it_ended_is_finished_until_the_rule_is_taken_out(tmp_path: Path) -> None:
    run = begin(tmp_path, "a", STOPPING)
    before = read_state(run).trials
    assert resume(run, options=Options(), means=Bench().means()).outcome == "finished"
    assert resume(run, options=Options(budget=500), means=Bench().means()).outcome == "finished"
    assert read_state(run).trials == before
    text = run.sweep_file.read_text(encoding="utf-8")
    head, _, tail = text.partition("[stop]\n")
    run.sweep_file.write_text(head + tail[tail.index("[") :], encoding="utf-8")
    resume(run, options=Options(), means=Bench().means())
    assert read_state(run).trials == 400
    same_data(run, begin(tmp_path, "b", STOPPING[: STOPPING.index("[stop]")]))


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("no_better_than = 1.5", "stop.no_better_than"),
        ("no_better_than = -0.1", "stop.no_better_than"),
        ("generations = 0", "stop.generations"),
        ("generations = 2.5", "stop.generations"),
        ("patience = 3", "stop.patience"),
    ],
)
def test_what_is_wrong_with_it_is_said(tmp_path: Path, line: str, message: str) -> None:
    path = tmp_path / "toy.toml"
    path.write_text(SWEEP + f"\n[stop]\n{line}\n", encoding="utf-8")
    with pytest.raises(InputError, match=message):
        load_sweep(path)
