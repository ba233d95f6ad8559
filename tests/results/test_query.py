"""Questions to a run's table: rows, order, columns, one design per cell, and an empty answer explained."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.glossary import OBJECTIVES
from boilerfront.results import open_run
from boilerfront.results.front import front_table, objective_values, write_front
from boilerfront.results.ledger import Ledger, read_ledger
from boilerfront.results.query import answer, answer_from
from boilerfront.results.question import Question
from boilerfront.results.resolution import RESOLUTION
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import metadata_of, table_of
from boilerfront.shared.errors import InputError
from tests.results.rows import SCHEMA, row, rows


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> RunFolder:
    folder = RunFolder(tmp_path_factory.mktemp("runs") / "demo")
    ledger = Ledger(folder.trials, SCHEMA)
    ledger.write_task(0, 0, rows(range(100)))
    closed = ledger.close_generation(0)
    ledger.write_task(1, 0, rows(range(100, 150)))
    folder.sweep_file.write_text("")
    write_front(folder.front, front_table(closed))
    return folder


def _trials(table: pa.Table) -> list[int]:
    return list(map(int, table["trial"].to_pylist()))


def test_the_front_by_default_in_the_order_of_the_objectives(run: RunFolder) -> None:
    found = answer(run, Question(exact=True))
    front = pd.read_parquet(run.front)
    expected = front.sort_values([*OBJECTIVES, "trial"])["trial"].tolist()
    assert _trials(found.table) == expected
    assert found.table.column_names == [
        "trial",
        "architecture",
        *OBJECTIVES,
        "brew_volume_mL",
        "coil_length_m",
        "control",
    ]
    assert found.notes == ()


def test_all_asks_every_trial_also_of_an_open_generation(run: RunFolder) -> None:
    found = answer(run, Question(all=True, sort="trial"))
    assert _trials(found.table) == list(range(150))
    assert {"feasible", "reason"} <= set(found.table.column_names)
    reasons = answer(run, Question(all=True, where="reason = 'not ready'"))
    assert _trials(reasons.table) == [trial for trial in range(150) if trial % 7 == 3]


def test_a_condition_gives_what_pandas_gives(run: RunFolder) -> None:
    where = "shot_deviation_K <= 1.0 AND warm_up_s <= 500"
    found = answer(run, Question(where=where, exact=True, sort="-part_cost", columns="part_cost,trial"))
    front = open_run(run.path).front()
    kept = front[(front["shot_deviation_K"] <= 1.0) & (front["warm_up_s"] <= 500)]
    expected = kept.sort_values("part_cost", ascending=False)
    assert found.table.column_names == ["part_cost", "trial"]
    assert found.table["part_cost"].to_pylist() == expected["part_cost"].tolist()
    assert metadata_of(found.table.schema.field("part_cost"))["unit"] == "currency"


def test_every_column_can_be_sorted_by_with_nulls_last(run: RunFolder) -> None:
    trials = read_ledger(run.trials).table
    for name, sort in [(name, sign + name) for name in SCHEMA.names for sign in ("", "-")]:
        values = answer_from(trials, Question(all=True, sort=sort, columns=(name,))).table[name].to_pylist()
        known = [value for value in values if value is not None]
        assert values[: len(known)] == known
        assert known == sorted(known, reverse=sort.startswith("-"))


def test_several_keys(run: RunFolder) -> None:
    table = answer(run, Question(all=True, sort="architecture,-trial")).table
    pairs = list(zip(table["architecture"].to_pylist(), _trials(table), strict=True))
    assert pairs == sorted(pairs, key=lambda pair: (pair[0], -pair[1]))


def test_a_limit_is_said(run: RunFolder) -> None:
    found = answer(run, Question(all=True, limit=3, sort="trial"))
    assert _trials(found.table) == [0, 1, 2]
    assert "3 of 150" in found.notes[-1]


def test_every_fault_at_once_with_the_nearest_names(run: RunFolder) -> None:
    question = Question(sort="-costs", columns=["trial", "warmup_s"], limit=0)
    with pytest.raises(InputError) as caught:
        answer(run, question)
    text = str(caught.value)
    assert len(caught.value.faults) == 3
    assert "part_cost" in text
    assert "warm_up_s" in text
    assert "whole number from 1" in text
    with pytest.raises(InputError, match="one of them"):
        answer(run, Question(cheapest=True, sort="trial"))


def _points(values: list[tuple[float, ...]]) -> pa.Table:
    named = [dict(zip(OBJECTIVES, point, strict=True)) for point in values]
    return table_of([{**row(k, **point), "generation": 0} for k, point in enumerate(named)], SCHEMA)


def test_one_design_per_cell_the_first_in_the_order_asked_for() -> None:
    table = _points([(0.52, 301.0, 0.501, 100.2), (0.51, 308.0, 0.509, 100.9), (0.56, 301.0, 0.501, 100.2)])
    found = answer_from(table, Question())
    assert _trials(found.table) == [1, 2]
    assert "2 of 3 designs: one per cell of 0.05 K, 10 s, 0.01 kWh, 1 currency" in found.notes[0]
    assert _trials(answer_from(table, Question(sort="warm_up_s")).table) == [0, 2]
    assert _trials(answer_from(table, Question(exact=True)).table) == [1, 0, 2]


def test_a_value_on_an_edge_belongs_to_the_cell_that_begins_there() -> None:
    # 0.15 / 0.05 is 2.9999999999999996 in binary floating point.
    table = _points([(0.15, 300.0, 0.5, 100.0), (0.17, 300.0, 0.5, 100.0), (0.14, 300.0, 0.5, 100.0)])
    assert _trials(answer_from(table, Question()).table) == [2, 0]


@given(st.lists(st.tuples(*[st.floats(min_value=0, max_value=3)] * 4), min_size=1, max_size=30))
def test_no_two_shown_share_a_cell_and_every_cell_is_shown(points: list[tuple[float, ...]]) -> None:
    table = _points([(a, 20 * b, c / 50, 2 * d) for a, b, c, d in points])
    sizes = [RESOLUTION[name] for name in OBJECTIVES]

    def cells(part: pa.Table) -> list[tuple[int, ...]]:
        return [
            tuple(int(v / s + 1e-9) for v, s in zip(p, sizes, strict=True)) for p in objective_values(part)
        ]

    shown = answer_from(table, Question(columns=SCHEMA.names)).table
    assert len(set(cells(shown))) == shown.num_rows
    assert set(cells(shown)) == set(cells(table))


def test_cheapest(run: RunFolder) -> None:
    front = pd.read_parquet(run.front)
    within = front[front["shot_deviation_K"] <= 0.8]
    found = answer(run, Question(cheapest=True, where="shot_deviation_K <= 0.8"))
    assert found.table["part_cost"].to_pylist() == [within["part_cost"].min()]
    assert answer(run, Question(cheapest=True, limit=2)).table.num_rows == 2


def test_an_empty_answer_names_the_condition_and_the_nearest() -> None:
    table = _points([(0.9, 400.0, 0.5, 100.0), (0.53, 500.0, 0.6, 120.0), (0.2, 700.0, 0.7, 180.0)])
    found = answer_from(
        table, Question(where="shot_deviation_K <= 0.5 AND warm_up_s <= 600 AND part_cost < 50")
    )
    assert found.table.num_rows == 0
    assert found.notes[:3] == (
        "1 of 3 meet shot_deviation_K <= 0.5; without it 0 would be left",
        "2 of 3 meet warm_up_s <= 600; without it 0 would be left",
        "no design of 3 meets part_cost < 50",
    )
    assert found.nearest is not None
    assert found.nearest.column_names == found.table.column_names
    # Relative lacks by hand, (deviation, warm-up, cost): trial 0 (1, 0, 50/130), trial 1 (3/40, 0, 70/130),
    # trial 2 (0, 1, 1).
    assert _trials(found.nearest) == [1, 0, 2]
    assert (
        "near: trial 1 misses shot_deviation_K <= 0.5 by 0.03 K and part_cost < 50 by 70 currency"
        in found.notes
    )


def test_the_condition_that_empties_is_told_from_the_others() -> None:
    table = _points([(0.9, 400.0, 0.5, 100.0), (0.53, 500.0, 0.6, 120.0)])
    found = answer_from(table, Question(where="shot_deviation_K <= 0.5 AND warm_up_s <= 600"))
    assert found.notes[0] == "no design of 2 meets shot_deviation_K <= 0.5"
    assert found.notes[1].startswith("near: trial 1 misses")  # warm-up is met by all, so not to blame
    both = answer_from(table, Question(where="shot_deviation_K < 0.6 AND warm_up_s < 450"))
    assert both.notes[:2] == (
        "1 of 2 meet shot_deviation_K < 0.6; without it 1 would be left",
        "1 of 2 meet warm_up_s < 450; without it 1 would be left",
    )


def test_the_bound_itself_misses_a_strict_condition_by_being_equal() -> None:
    found = answer_from(_points([(0.9, 400.0, 0.5, 100.0)]), Question(where="warm_up_s < 400"))
    assert "near: trial 0 misses warm_up_s < 400 by being equal" in found.notes


def test_a_text_that_no_row_has_is_answered_with_those_that_are_there() -> None:
    rows = [row(0, architecture="dual_boiler"), row(1, architecture="thermoblock")]
    table = table_of([{**each, "generation": 0} for each in rows], SCHEMA)
    found = answer_from(table, Question(all=True, where="'termoblock' = architecture AND warm_up_s > 0"))
    assert found.notes[-1] == "architecture has no 'termoblock' here, only dual_boiler, thermoblock"
    assert found.nearest is None
    assert not any(note.startswith("near:") for note in found.notes)
    # a text that is there and does not go with the other term still has nearest rows
    there = answer_from(table, Question(all=True, where="architecture = 'thermoblock' AND warm_up_s < 0"))
    assert there.nearest is not None


def test_a_number_with_its_unit_is_told_to_stand_alone() -> None:
    table = _points([(0.9, 400.0, 0.5, 100.0)])
    with pytest.raises(InputError, match="'5 min' is no number"):
        answer_from(table, Question(where="warm_up_s < '5 min'"))


@pytest.mark.parametrize(("typed", "meant"), [("price", "part_cost"), ("heat_up", "warm_up_s")])
def test_an_everyday_word_finds_its_column(typed: str, meant: str) -> None:
    with pytest.raises(InputError, match=f"did you mean {meant}"):
        answer_from(_points([(0.9, 400.0, 0.5, 100.0)]), Question(sort=typed))


def test_a_design_without_what_is_asked_for_is_not_the_nearest() -> None:
    # trial 0 has no coil at all; trial 1 has one that is far too short
    of_both = [row(0, coil_length_m=None, control="pid"), row(1, coil_length_m=0.1, control="pid")]
    table = table_of([{**each, "generation": 0} for each in of_both], SCHEMA)
    found = answer_from(table, Question(all=True, where="coil_length_m > 2 AND control = 'pid'"))
    assert found.nearest is not None
    assert _trials(found.nearest) == [1]


def test_an_empty_answer_about_texts_and_nulls(run: RunFolder) -> None:
    found = answer(run, Question(all=True, where="architecture = 'thermoblock' AND coil_length_m < 0"))
    assert "no design of 150 meets architecture = 'thermoblock'" in found.notes
    assert found.nearest is not None
    assert found.nearest.num_rows == 3
    assert any("misses architecture = 'thermoblock' and coil_length_m < 0" in note for note in found.notes)


def test_no_trials_and_no_front_are_said(tmp_path: Path) -> None:
    folder = RunFolder(tmp_path)
    assert "no design has been evaluated" in answer(folder, Question(all=True)).notes[-1]
    Ledger(folder.trials, SCHEMA).write_task(0, 0, rows([3]))
    assert "the front is empty" in answer(folder, Question()).notes[-1]


def test_a_spoilt_front_is_computed_again(run: RunFolder, tmp_path: Path) -> None:
    folder = RunFolder(tmp_path)
    Ledger(folder.trials, SCHEMA).write_task(0, 0, rows(range(100)))
    expected = answer(folder, Question(exact=True)).table
    folder.front.write_bytes(run.front.read_bytes()[:200])
    found = answer(folder, Question(exact=True))
    assert "computed again" in found.notes[0]
    assert found.table.equals(expected)
    assert found.table.equals(answer(run, Question(exact=True)).table)
