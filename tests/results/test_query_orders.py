"""What is cheapest, affordable, a knee, near, or exchanged for what: the ready questions of the table."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.glossary import OBJECTIVES
from boilerfront.results.front import front_table, objective_values, write_front
from boilerfront.results.knee import heights, sharpness
from boilerfront.results.ledger import Ledger
from boilerfront.results.query import answer, answer_from
from boilerfront.results.question import Question
from boilerfront.results.resolution import RESOLUTION
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import table_of, unit_of
from boilerfront.shared.errors import InputError
from tests.results.rows import SCHEMA, not_ready, row, rows

NUMBERS = st.floats(min_value=0, max_value=1)


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> RunFolder:
    folder = RunFolder(tmp_path_factory.mktemp("runs") / "demo")
    ledger = Ledger(folder.trials, SCHEMA)
    ledger.write_task(0, 0, rows(range(100)))
    folder.sweep_file.write_text("")
    write_front(folder.front, front_table(ledger.close_generation(0)))
    return folder


def _trials(table: pa.Table) -> list[int]:
    return list(map(int, table["trial"].to_pylist()))


def _points(values: list[tuple[float, ...]], **same: float | str | None) -> pa.Table:
    """Return rows with these objectives: deviation, warm-up, energy, cost."""
    named = [{**dict(zip(OBJECTIVES, point, strict=True)), **same} for point in values]
    return table_of([{**row(k, **point), "generation": 0} for k, point in enumerate(named)], SCHEMA)


# What a budget buys


def test_a_budget_leaves_what_it_pays_for_the_steadiest_first() -> None:
    table = _points([(0.9, 400.0, 0.5, 100.0), (0.5, 500.0, 0.6, 120.0), (0.2, 700.0, 0.7, 180.0)])
    found = answer_from(table, Question(spend=120.0))
    assert _trials(found.table) == [1, 0]
    assert found.notes == (
        "2 of 3 designs cost at most 120 currency in parts",
        "a smaller shot_deviation_K takes 180.0 currency at least: trial 2 has 0.20 K",
    )
    assert _trials(answer_from(table, Question(spend=120.0, sort="warm_up_s")).table) == [0, 1]
    assert "no money buys" in answer_from(table, Question(spend=1e6)).notes[-1]


def test_a_budget_and_a_condition_hold_together_and_an_empty_answer_tells_of_both() -> None:
    table = _points([(0.9, 400.0, 0.5, 100.0), (0.5, 500.0, 0.6, 120.0), (0.2, 700.0, 0.7, 180.0)])
    found = answer_from(table, Question(spend=150.0, where="shot_deviation_K < 0.6 OR warm_up_s > 600"))
    assert _trials(found.table) == [1]
    assert found.notes[0] == "1 of 2 designs cost at most 150 currency in parts"
    empty = answer_from(table, Question(spend=110.0, where="shot_deviation_K < 0.6"))
    assert empty.table.num_rows == 0
    assert "1 of 3 meet part_cost <= 110.0; without it 2 would be left" in empty.notes
    assert empty.nearest is not None
    assert _trials(empty.nearest)[0] == 1


def test_a_condition_cannot_open_the_budget() -> None:
    table = _points([(0.9, 400.0, 0.5, 100.0), (0.2, 700.0, 0.7, 180.0)])
    assert _trials(answer_from(table, Question(spend=110.0, where="part_cost > 0 OR trial = 1")).table) == [0]
    with pytest.raises(InputError):
        answer_from(table, Question(spend=110.0, where="1 = 1) OR (1 = 1"))


# The knee


def test_of_two_objectives_the_knee_is_farthest_from_the_chord() -> None:
    # From the ends (0, 10) and (10, 0): distance to the chord by hand, (10 - x - y) / sqrt 2.
    points = [(0.0, 10.0), (2.0, 7.0), (3.0, 3.0), (6.0, 2.5), (10.0, 0.0)]
    assert int(np.argmin(heights(np.array(points)))) == 2
    # Left for (2, 7): 4 lost, 1 gained. For (6, 2.5): 3 lost, 0.5 gained. For the ends: 7 lost, 3 gained.
    assert sharpness(np.array(points), 2) == pytest.approx(7 / 3)


@given(st.lists(st.tuples(*[NUMBERS] * 4), min_size=2, max_size=40))
def test_at_the_knee_and_there_alone_no_exchange_pays(points: list[tuple[float, ...]]) -> None:
    values = np.array(points)
    sums = heights(values)
    knee = int(np.argmin(sums))
    # Sums of numbers up to 4 are rounded by 1e-15, which is at most a millionth of the least gain.
    assert sharpness(values, knee) >= 1.0 - 1e-6
    for place in range(len(values)):
        if sums[place] > sums[knee] + 1e-6:
            assert sharpness(values, place) < 1.0


def test_the_knee_is_one_row_with_a_sentence_and_the_next_follow(run: RunFolder) -> None:
    front = answer(run, Question(exact=True, columns=SCHEMA.names)).table
    order = np.argsort(heights(objective_values(front)), kind="stable")
    expected = [front["trial"][int(place)].as_py() for place in order]
    found = answer(run, Question(knee=True))
    assert _trials(found.table) == expected[:1]
    assert f"trial {expected[0]} is the knee" in found.notes[-2]
    assert _trials(answer(run, Question(knee=True, exact=True, limit=3)).table) == expected[:3]


def test_a_knee_of_one_design_says_so() -> None:
    found = answer_from(_points([(0.9, 400.0, 0.5, 100.0)]), Question(knee=True))
    assert found.notes == ("trial 0 is the only one: there is no other to exchange it for",)


# Neighbours


def _built(*designs: tuple[str, float, float | None, str]) -> pa.Table:
    names = ("architecture", "brew_volume_mL", "coil_length_m", "control")
    return table_of(
        [{**row(k, **dict(zip(names, d, strict=True))), "generation": 0} for k, d in enumerate(designs)],
        SCHEMA,
    )


def test_neighbours_by_how_they_are_built_and_what_they_differ_in() -> None:
    table = _built(
        ("dual_boiler_coil", 300.0, 0.5, "pid"),
        ("dual_boiler_coil", 400.0, 0.5004, "pid"),
        ("dual_boiler_coil", 300.0, 1.5, "pid_ff"),
        ("dual_boiler", 300.0, None, "pid"),
        ("dual_boiler_coil", 700.0, 0.5, "pid"),
    )
    found = answer_from(table, Question(near=0)).table
    # By hand: 1 (100/400 + 0.0004/1)/4; 2 (1 + 1)/4; 3 one of three compared; 4 (400/400)/4.
    assert _trials(found) == [0, 1, 4, 3, 2]
    assert found["distance"].to_pylist() == pytest.approx([0.0, 0.2504 / 4, 0.25, 1 / 3, 0.5])
    assert found["differs_in"].to_pylist() == [
        "the design asked about",
        "brew_volume_mL 300 → 400",
        "brew_volume_mL 300 → 700",
        "architecture dual_boiler_coil → dual_boiler",
        "coil_length_m 0.500 → 1.500, control pid → pid_ff",
    ]


def test_neighbours_of_a_design_that_is_off_the_front_or_never_got_ready(run: RunFolder) -> None:
    front = set(_trials(answer(run, Question(exact=True)).table))
    off = next(trial for trial in range(100) if trial not in front)
    for trial in (off, 3):  # trial 3 never got ready: it has variables, no objectives
        found = _trials(answer(run, Question(near=trial, limit=5)).table)
        assert found[0] == trial
        assert set(found[1:]) <= front
        assert len(found) == 5
    found = answer(run, Question(near=3, where="warm_up_s > 0", columns="trial,differs_in")).table
    assert found.column_names == ["trial", "differs_in"]
    for trial in (149, 10**20):
        with pytest.raises(InputError, match=f"trial {trial}"):
            answer(run, Question(near=trial))


# Prices


def test_exchanges_by_hand() -> None:
    table = _points(
        [
            (1.0, 600.0, 0.30, 100.0),  # 0: slow and cheap
            (0.8, 500.0, 0.30, 105.0),  # 1: 100 s and 0.2 K for 5
            (0.8, 400.0, 0.35, 105.0),  # 2: from 1: 100 s for 50 Wh
            (0.5, 395.0, 0.50, 140.0),  # 3: from 2 no difference in warm-up
        ]
    )
    found = answer_from(table, Question(trade="warm_up_s"))
    # Over ranges of 0.5 K, 0.2 kWh, 40: from 0 to 1 is 5/40 for 100 s, to 2 (5/40 + 0.05/0.2) for 200 s.
    assert _trials(found.table) == [0, 1, 2]
    assert found.table["next_trial"].to_pylist() == [1, 2, None]
    assert found.table["gained"].to_pylist() == [100.0, 100.0, None]
    prices = {name: found.table[f"paid_in_{name}"].to_pylist() for name in OBJECTIVES if name != "warm_up_s"}
    assert prices["part_cost"] == pytest.approx([0.05, 0.0, None])
    assert prices["shot_deviation_K"] == pytest.approx([-0.002, 0.0, None])
    assert prices["energy_kWh_day"] == pytest.approx([0.0, 0.5, None])
    units = {name: unit_of(found.table.schema.field(f"paid_in_{name}")) for name in prices}
    assert units == {
        "part_cost": "currency per s",
        "shot_deviation_K": "K per s",
        "energy_kWh_day": "Wh per s",
    }
    assert found.notes[0].startswith("a walk of 2 exchanges over 4 designs")
    # Alone in money: 0 to 1 at 0.05. Alone in energy: 1 to 2 at 0.5. Nothing is paid in steadiness alone.
    assert found.notes[1:] == (
        "warm_up_s cannot be bought with shot_deviation_K alone",
        "warm_up_s bought with energy_kWh_day alone: 0.50 Wh per s in the middle (1 of 4 designs can)",
        "warm_up_s bought with part_cost alone: 0.050 currency per s in the middle (1 of 4 designs can)",
    )


@given(st.lists(st.tuples(*[NUMBERS] * 4), min_size=1, max_size=25), st.sampled_from(OBJECTIVES))
def test_a_walk_gains_a_difference_at_each_step_and_ends_where_none_is_left(
    points: list[tuple[float, ...]], bought: str
) -> None:
    table = front_table(_points([(a, 500 * b, c, 100 * d) for a, b, c, d in points]))
    found = answer_from(table, Question(trade=bought, columns=SCHEMA.names)).table
    values = found[bought].to_numpy()
    assert (-np.diff(values) >= RESOLUTION[bought] * (1 - 1e-6)).all()
    assert values[0] == table[bought].to_numpy().max()
    assert values[-1] < table[bought].to_numpy().min() + RESOLUTION[bought]


def test_prices_of_every_design_are_those_of_the_row_that_is_named(run: RunFolder) -> None:
    columns = [*SCHEMA.names, "gained", "next_trial", "paid_in_part_cost"]
    table = answer(run, Question(trade="shot_deviation_K", exact=True, columns=columns)).table
    by_trial = {r["trial"]: r for r in table.to_pylist()}
    assert len(by_trial) == table.num_rows > 5
    for r in by_trial.values():
        if (other := by_trial.get(r["next_trial"])) is not None:
            gained = r["shot_deviation_K"] - other["shot_deviation_K"]
            assert r["gained"] == pytest.approx(gained)
            assert r["paid_in_part_cost"] == pytest.approx((other["part_cost"] - r["part_cost"]) / gained)


def test_prices_stand_beside_the_other_questions_and_can_be_sorted_by(run: RunFolder) -> None:
    found = answer(run, Question(trade="part_cost", sort="-paid_in_warm_up_s", exact=True)).table
    prices = [price for price in found["paid_in_warm_up_s"].to_pylist() if price is not None]
    assert prices == sorted(prices, reverse=True)
    assert answer(run, Question(trade="part_cost", knee=True)).table.num_rows == 1
    assert "gained" in answer(run, Question(trade="part_cost", near=3)).table.column_names
    within = answer(run, Question(trade="part_cost", where="part_cost > 100", exact=True)).table
    assert set(filter(None, within["next_trial"].to_pylist())) <= set(_trials(within))


# Contradictions


@pytest.mark.parametrize(
    ("question", "faults"),
    [
        (Question(cheapest=True, knee=True, near=1), ["--cheapest and --knee and --near"]),
        (Question(sort="trial", knee=True), ["--sort and --knee"]),
        (Question(cheapest=True, spend=100.0), ["--cheapest and --spend"]),
        (Question(all=True, knee=True), ["--all and --knee"]),
        (Question(all=True, trade="warm_up_s"), ["--all and --trade"]),
        (Question(trade="mass_kg"), ["--trade"]),
        (Question(spend=float("nan"), limit=0), ["--limit", "--spend"]),
        (Question(spend=-1.0), ["--spend"]),
        (Question(columns="gained"), ["--columns"]),
        (Question(trade="no_such", sort="nothing"), ["--trade", "--sort"]),
    ],
)
def test_every_contradiction_is_named(question: Question, faults: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        answer_from(_points([(0.9, 400.0, 0.5, 100.0)]), question)
    assert [fault.where for fault in caught.value.faults] == faults


@pytest.mark.parametrize(
    "question", [Question(knee=True), Question(trade="warm_up_s"), Question(spend=9.0), Question(near=3)]
)
def test_before_the_first_front_the_answer_says_so(question: Question, tmp_path: Path) -> None:
    folder = RunFolder(tmp_path)
    Ledger(folder.trials, SCHEMA).write_task(0, 0, [not_ready(3)])
    assert "the front is empty" in answer(folder, question).notes[-1]
