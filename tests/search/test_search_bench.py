"""The comparison with other searches: what it runs, what it may not judge on, and that it goes on."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from boilerfront.jobs.ranges import Completion
from boilerfront.model import evaluate_many
from boilerfront.model.glossary import OBJECTIVES
from tests.bench import bench_search_full
from tests.bench.bench_ablation import BASE, IDEAS, Case, searched
from tests.bench.bench_search_full import TPE, cells, judged, rows
from tests.bench.search_problems import MULTIMODAL, Floats, problems, untouched
from tests.bench.thermal_problem import thermal


def test_problems_for_judging_are_not_those_for_choosing() -> None:
    assert not set(untouched()) & set(problems())
    assert len(untouched()) >= 12
    low_counts = [p.evaluate(p.bounds[0][None])[1].shape[1] for p in untouched().values()]
    assert sum(count > 0 for count in low_counts) >= 4


def test_each_cell_comes_once_and_the_slowest_search_stays_short() -> None:
    listed = list(cells())
    assert len(set(listed)) == len(listed)
    assert max(cell.budget for cell in listed if cell.search == TPE) == 1000
    first_long = next(k for k, cell in enumerate(listed) if cell.budget == 10_000)
    assert all(cell.budget == 10_000 for cell in listed[first_long:])


def test_problems_with_many_local_fronts_take_fifteen_seeds() -> None:
    assert set(MULTIMODAL) < set(untouched())
    seeds: dict[tuple[str, int], set[int]] = {}
    for cell in cells():
        seeds.setdefault((cell.problem, cell.budget), set()).add(cell.seed)
    for problem in judged():
        assert (
            len(seeds[problem, 2000]) == len(seeds[problem, 10_000]) == (15 if problem in MULTIMODAL else 5)
        )


def test_our_own_model_is_one_of_the_problems() -> None:
    problem = thermal()
    low, high = problem.bounds
    genomes = problem.space.coding.canonical(np.random.default_rng(1).uniform(low, high, (12, len(low))))
    objectives, constraints = problem.evaluate(genomes)
    assert np.array_equal(problem.designs(problem.space.decode(genomes)), genomes)
    completion = Completion(problem.sweep.variables)
    rows = evaluate_many([completion(row) for row in problem.space.decode(genomes)], problem.sweep.brief())
    feasible = [bool(row["feasible"]) for row in rows]
    assert 0 < sum(feasible) < len(feasible)
    assert ((constraints <= 0.0).all(axis=1)).tolist() == feasible
    cost = [row["part_cost"] for row in rows if row["feasible"]]
    assert objectives[feasible, list(OBJECTIVES).index("part_cost")] == pytest.approx(cost)


@pytest.mark.slow
def test_every_idea_that_is_turned_off_changes_the_search() -> None:
    cases = (Case("mw6", 288), Case("zdt4", 672), Case("dtlz2", 2784))

    def tried(idea: str) -> list[Floats]:
        turned_off, options = IDEAS[idea]
        with turned_off():
            return [searched(case, seed=1, options=options)[0] for case in cases]

    whole = tried(BASE)
    for idea in IDEAS.keys() - {BASE}:
        assert not all(map(np.array_equal, tried(idea), whole)), idea


def test_shares_are_of_what_all_found_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench_search_full, "FOLDER", tmp_path)
    assert rows() == []
    both, one = [cell for cell in cells() if cell.problem == "srn" and cell.seed == 0][:2]
    ends, none = np.array([[0.0, 1.0], [1.0, 0.0]]), np.zeros((0, 2))
    np.savez(both.path, allow_pickle=False, own_ms=1.0, **{"500": none, "2000": ends})
    np.savez(one.path, allow_pickle=False, own_ms=1.0, **{"500": ends[:1]})
    found = {(row["search"], row["budget"]): row["share"] for row in rows()}
    # By hand: two strips of 1.1 by 0.1 that share a square of 0.1 make 0.21, one of them is 0.11.
    assert found == {
        (both.search, 500): 0.0,
        (both.search, 2000): pytest.approx(1.0),
        (one.search, 500): pytest.approx(0.11 / 0.21),
    }
