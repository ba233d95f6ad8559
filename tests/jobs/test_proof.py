"""The proof of a night: what is rated again, in which order, what is said of it, and that a cut loses little."""

from __future__ import annotations

import errno
import os
import signal
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from boilerfront.jobs.launch import Ended, Means, Options, frozen_sweep, resume, start
from boilerfront.jobs.state import read_state, write_state
from boilerfront.jobs.stopping import ask_to_stop
from boilerfront.jobs.sweep import load_sweep
from boilerfront.jobs.work import Design, Row
from boilerfront.model.brief import Brief
from boilerfront.results.front import front_table, read_front
from boilerfront.results.ledger import read_ledger
from boilerfront.results.proof import HOLDS, NOT_PROVEN, STATUS, ProofTable, is_better, summary
from boilerfront.results.query import answer
from boilerfront.results.question import Question
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files
from boilerfront.shared.errors import InputError, StoppedEarlyError
from tests.jobs.fakes import Bench, FakeClock
from tests.jobs.sessions import Power
from tests.jobs.toy import SWEEP, toy

PROOF = "\n[proof]\nmachines = {machines}\nseeds = {seeds}\nneighbours = {neighbours}\n"


def begin(
    folder: Path,
    name: str,
    *,
    machines: int = 0,
    seeds: int = 0,
    neighbours: bool = False,
    means: Means | None = None,
    options: Options | None = None,
) -> Ended:
    path = folder / f"{name}.toml"
    proof = PROOF.format(machines=machines, seeds=seeds, neighbours=str(neighbours).lower())
    path.write_text(SWEEP + proof, encoding="utf-8")
    return start(
        path, folder / "runs", name=name, options=options or Options(), means=means or Bench().means()
    )


def proof_rows(run: RunFolder) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = pq.read_table(run.proof).to_pylist()
    return rows


def said(run: RunFolder) -> dict[int, str]:
    front = read_front(run.front)
    return dict(zip(front["trial"].to_pylist(), front[STATUS].to_pylist(), strict=True))


class Looking:
    """An evaluator that remembers how many machines it was asked for, and may be worse on many."""

    def __init__(self, worse: float = 0.0) -> None:
        self.machines: list[int] = []
        self.seeds: set[int] = set()
        self.worse = worse

    def __call__(self, designs: Sequence[Design], brief: Brief) -> list[Row]:
        self.machines += [brief.tolerances.samples] * len(designs)
        self.seeds.add(brief.tolerances.seed)
        return [self._spoilt(row) for row in toy(designs, brief)]

    def _spoilt(self, row: Row) -> Row:
        if not self.worse or "warm_up_s" not in row:
            return row
        if row["warm_up_s"] < 200:
            return {**row, "feasible": False, "margin_mains_A": -self.worse}
        return {**row, "warm_up_s": row["warm_up_s"] + 20 * self.worse}


def test_every_design_of_the_front_is_rated_again_on_fresh_machines(tmp_path: Path) -> None:
    finer = Looking()
    run = begin(tmp_path, "a", machines=64, means=Bench(evaluate_finer=finer).means()).run
    front = front_table(read_ledger(run.trials).table)
    assert finer.machines == [64] * front.num_rows
    assert finer.seeds == {frozen_sweep(run).tolerances.seed + 1}
    rows = proof_rows(run)
    assert [(row["trial"], row["kind"]) for row in rows] == [(t, "finer") for t in front["trial"].to_pylist()]
    assert set(said(run).values()) == {HOLDS}
    state = read_state(run)
    assert (state.phase, state.proof_done) == ("finished", True)
    assert f"{front.num_rows} of {front.num_rows} designs of the front looked at" in state.proof
    assert state.proof in run.log.read_text(encoding="utf-8")


def test_what_does_not_hold_and_what_moves_is_said(tmp_path: Path) -> None:
    run = begin(tmp_path, "a", machines=64, means=Bench(evaluate_finer=Looking(worse=1.0)).means()).run
    texts = set(said(run).values())
    assert "does not hold: margin_mains_A -1" in texts
    assert "holds, moved: warm_up_s +20" in texts
    assert "do not hold" in read_state(run).proof


def test_neighbours_that_are_better_are_named_and_none_leaves_the_sweep(tmp_path: Path) -> None:
    run = begin(tmp_path, "a", neighbours=True).run
    rows = proof_rows(run)
    assert {row["kind"] for row in rows} == {"neighbour"}
    assert len({(row["trial"], row["changed"]) for row in rows}) == len(rows)
    for row in rows:
        assert 200 <= row["brew_volume_mL"] <= 800
        assert row["coil_length_m"] is None or 0.2 <= row["coil_length_m"] <= 1.6
    assert len(read_ledger(run.trials).table) == 60  # neighbours never enter the ledger
    own = {row["trial"]: row for row in read_front(run.front).to_pylist()}
    better = {row["trial"] for row in rows if row["feasible"] and is_better(row, own[row["trial"]])}
    assert {trial for trial, text in said(run).items() if "better with" in text} == better


def test_other_seeds_are_runs_in_the_folder_and_beat_what_they_beat(tmp_path: Path) -> None:
    run = begin(tmp_path, "a", seeds=2).run
    seeds = [RunFolder(run.path / f"seed-{number}") for number in (1, 2)]
    assert [frozen_sweep(each).search.seed for each in seeds] == [6, 7]
    assert all(read_state(each).phase == "finished" for each in seeds)
    assert any("has better: trial" in text for text in said(run).values())
    for trial, text in said(run).items():
        for name, number in (
            (part.split(" has better: trial ")) for part in text.split("; ") if "has better" in part
        ):
            other = {row["trial"]: row for row in read_front(run.path / name / "front.parquet").to_pylist()}
            own = {row["trial"]: row for row in read_front(run.front).to_pylist()}
            assert is_better(other[int(number)], own[trial])


@pytest.mark.parametrize("designs", [61, 70, 100, 150, 185])
def test_a_cut_and_a_resume_give_the_same_proof(tmp_path: Path, designs: int) -> None:
    whole = begin(tmp_path, "whole", machines=8, seeds=1, neighbours=True).run
    power = Power(designs)
    means = Bench(evaluate=power, evaluate_finer=power).means()
    with pytest.raises(KeyboardInterrupt):
        begin(tmp_path, "cut", machines=8, seeds=1, neighbours=True, means=means)
    run = RunFolder(tmp_path / "runs" / "cut")
    assert read_state(run).phase == "died"
    assert resume(run, options=Options(), means=Bench(seed=3).means()).outcome == "finished"
    assert pq.read_table(run.proof).equals(pq.read_table(whole.proof))
    assert said(run) == said(whole)
    asked = Looking()
    resume(run, options=Options(), means=Bench(evaluate=asked, evaluate_finer=asked).means())
    assert asked.machines == []


def test_a_damaged_proof_is_made_again(tmp_path: Path) -> None:
    run = begin(tmp_path, "a", machines=8).run
    before = said(run)
    data = bytearray(run.proof.read_bytes())
    data[len(data) // 2] ^= 4
    run.proof.write_bytes(data)
    resume(run, options=Options(budget=61), means=Bench().means())
    assert set(said(run).values()) == {HOLDS}
    assert before.keys() & said(run).keys()


def test_more_budget_proves_what_is_new_on_the_front(tmp_path: Path) -> None:
    run = begin(tmp_path, "a", machines=8).run
    looked_at = Looking()
    resume(run, options=Options(budget=100), means=Bench(evaluate_finer=looked_at).means())
    assert 0 < len(looked_at.machines) < len(said(run))
    assert NOT_PROVEN not in said(run).values()


def test_stop_and_signal_keep_what_is_done(tmp_path: Path) -> None:
    run = RunFolder(tmp_path / "runs" / "a")

    def stopping(designs: Sequence[Design], brief: Brief) -> list[Row]:
        ask_to_stop(run)
        return toy(designs, brief)

    means = Bench(evaluate_finer=stopping).means()
    assert begin(tmp_path, "a", machines=8, means=means).outcome == "stopped"
    state = read_state(run)
    assert (state.phase, state.proof_done) == ("stopped", False)
    assert "its proof had not" in state.why
    assert 0 < len(proof_rows(run)) < len(said(run))

    def interrupted(designs: Sequence[Design], brief: Brief) -> list[Row]:
        os.kill(os.getpid(), signal.SIGINT)
        return toy(designs, brief)

    before = len(proof_rows(run))

    def once(designs: Sequence[Design], brief: Brief) -> list[Row]:
        once_means.append(1)
        return interrupted(designs, brief) if len(once_means) == 1 else toy(designs, brief)

    once_means: list[int] = []
    with pytest.raises(StoppedEarlyError, match="boilerfront resume"):
        resume(run, options=Options(), means=Bench(evaluate_finer=once).means())
    assert len(proof_rows(run)) > before
    assert resume(run, options=Options(), means=Bench().means()).outcome == "finished"


def test_it_ends_at_the_time_asked_for(tmp_path: Path) -> None:
    clock = FakeClock()

    def slow(designs: Sequence[Design], brief: Brief) -> list[Row]:
        clock.sleep(30.0 * len(designs))
        return toy(designs, brief)

    options = Options(until=clock.time + 200.0)
    ended = begin(
        tmp_path, "a", machines=8, means=Bench(evaluate_finer=slow, clock=clock).means(), options=options
    )
    assert ended.outcome == "until"
    state = read_state(ended.run)
    assert state.phase == "stopped"
    assert "as asked" in state.why
    assert NOT_PROVEN in said(ended.run).values()


def test_a_front_without_designs_needs_no_proof(tmp_path: Path) -> None:
    def never(designs: Sequence[Design], brief: Brief) -> list[Row]:
        return [{"feasible": False, "reason": "not ready", "shortfall": 1.0} for _ in designs]

    ended = begin(tmp_path, "a", machines=8, neighbours=True, means=Bench(evaluate=never).means())
    assert ended.outcome == "finished"
    assert read_state(ended.run).proof_done


def test_a_design_that_crashes_its_worker_is_told(tmp_path: Path) -> None:
    run = begin(tmp_path, "a").run
    last = read_front(run.front).num_rows - 1
    text = run.sweep_file.read_text(encoding="utf-8").replace("machines = 0", "machines = 8")
    run.sweep_file.write_text(text, encoding="utf-8")
    state = read_state(run)
    write_state(run, replace(state, proof_done=False))
    dying = Bench(dies=lambda place: "signal 11" if place == last else None)
    assert resume(run, options=Options(), means=dying.means()).outcome == "finished"
    told = list(said(run).values())
    assert told[last] == "does not hold: worker ended: signal 11"
    assert set(told[:-1]) == {HOLDS}


def test_a_disk_that_is_full_is_said_and_the_proof_goes_on_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(self: ProofTable) -> None:
        raise files.DiskError(Path("proof.parquet"), OSError(errno.ENOSPC, "No space left on device"))

    monkeypatch.setattr(ProofTable, "write", refused)
    with pytest.raises(StoppedEarlyError, match=r"No space left[\s\S]*boilerfront resume"):
        begin(tmp_path, "a", machines=8)
    monkeypatch.undo()
    run = RunFolder(tmp_path / "runs" / "a")
    state = read_state(run)
    assert (state.phase, state.proof_done) == ("stopped", False)
    assert "No space left" in state.why
    assert resume(run, options=Options(), means=Bench().means()).outcome == "finished"
    assert set(said(run).values()) == {HOLDS}


def test_the_table_shows_the_status(tmp_path: Path) -> None:
    run = begin(tmp_path, "a", machines=8).run
    table = answer(run, Question()).table
    assert STATUS in table.column_names
    assert set(table[STATUS].to_pylist()) == {HOLDS}
    assert answer(run, Question(all=True)).table.num_rows == 60


def test_a_front_that_nobody_looked_at_says_nothing() -> None:
    assert summary(pa.table({"trial": [1]})) == ""
    assert summary(pa.table({"trial": [1], STATUS: [NOT_PROVEN]})) == ""


@pytest.mark.parametrize("line", ["machines = -1", "seeds = 17", "neighbours = 1", "nights = 2"])
def test_what_is_wrong_with_the_section_is_said(tmp_path: Path, line: str) -> None:
    path = tmp_path / "toy.toml"
    path.write_text(SWEEP + f"\n[proof]\n{line}\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"proof\."):
        load_sweep(path)
