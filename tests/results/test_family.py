"""Why a family is on the front or not, on rows small enough to work out by hand."""

from __future__ import annotations

import pytest

from boilerfront.results.family import FEW, MOST_ROWS, standing
from boilerfront.results.schema import Row, table_of
from boilerfront.results.show import as_text
from boilerfront.shared.errors import InputError
from tests.results.rows import SCHEMA, not_ready, row

BOTH = ("dual_boiler", "dual_boiler_coil")


def plain(trial: int, deviation: float, cost: float, **more: float | bool | str | None) -> Row:
    """Return a dual boiler that differs from others by steadiness and cost alone."""
    same = {"architecture": "dual_boiler", "coil_length_m": None, "warm_up_s": 500.0, "energy_kWh_day": 0.5}
    return {"generation": 0, **row(trial, shot_deviation_K=deviation, part_cost=cost, **{**same, **more})}


def coil(trial: int, deviation: float, cost: float, **more: float | bool | str | None) -> Row:
    """Return the same with a coil."""
    return plain(trial, deviation, cost, **{"architecture": "dual_boiler_coil", "coil_length_m": 0.5, **more})


def said(*rows: Row, family: str = "dual_boiler") -> str:
    return "\n".join(standing(table_of(rows, SCHEMA), family, compared=BOTH).notes)


def test_a_family_that_is_dominated_is_told_by_which_and_by_how_much() -> None:
    rows = [
        coil(1, 0.3, 100.0),
        coil(2, 0.2, 130.0),
        plain(3, 0.5, 120.0),
        plain(4, 0.4, 140.0),
        plain(5, 0.6, 150.0),
    ]
    found = standing(table_of(rows, SCHEMA), "dual_boiler", compared=BOTH)
    text = "\n".join(found.notes)
    assert "3 designs evaluated, 3 came through their duty, 3 are feasible, 0 are on the front of 2" in text
    assert (
        "each of the 2 best dual_boiler designs is dominated; the nearest that do: dual_boiler_coil 2" in text
    )
    assert "shot_deviation_K: 0.40 K at best (trial 4), the front 0.20 K (trial 2, dual_boiler_coil)" in text
    assert "energy_kWh_day: 0.500 kWh at best (trial 3), no design is better" in text
    assert found.table is not None
    shown = found.table.to_pylist()
    # trial 5 is dominated in its own family; 4 lies 10 cost units from 2, 3 lies 20 from 1 (and 0.2 K, 4 steps)
    assert [(each["trial"], each["dominated_by"]) for each in shown] == [(4, 2), (3, 1)]
    assert shown[0]["change_part_cost"] == pytest.approx(-10.0)
    assert shown[0]["change_shot_deviation_K"] == pytest.approx(-0.2)
    assert shown[0]["change_warm_up_s"] == 0.0


def test_a_family_partly_on_the_front_shows_what_is_not() -> None:
    found = standing(
        table_of([coil(1, 0.3, 100.0), plain(2, 0.5, 90.0), plain(3, 0.45, 110.0)], SCHEMA),
        "dual_boiler",
        compared=BOTH,
    )
    text = "\n".join(found.notes)
    assert "1 are on the front of 2" in text
    assert "part_cost: 90.0 currency at best (trial 2), no design is better" in text
    assert found.table is not None
    assert found.table["trial"].to_pylist() == [3]


def test_a_family_wholly_on_the_front_has_nothing_to_explain() -> None:
    found = standing(
        table_of([coil(1, 0.3, 100.0), plain(2, 0.5, 90.0)], SCHEMA), "dual_boiler", compared=BOTH
    )
    assert found.table is None


def test_an_infeasible_family_is_told_by_its_margins_and_its_nearest_miss() -> None:
    text = said(
        coil(1, 0.3, 100.0),
        plain(2, 0.2, 90.0, feasible=False, margin_steam_s=-8.0, margin_overshoot_K=0.1),
        plain(3, 0.2, 95.0, feasible=False, margin_steam_s=-2.0, margin_overshoot_K=-0.3),
        plain(4, 0.2, 95.0, feasible=False, margin_steam_s=-4.0, margin_overshoot_K=0.2),
        not_ready_of(5),
    )
    assert "4 designs evaluated, 3 came through their duty, 0 are feasible" in text
    assert "did not come through: not ready 1" in text
    assert "margin_steam_s is broken by 3, by 2.00 s at the least" in text
    assert "margin_overshoot_K is broken by 1, by 0.30 K at the least" in text
    # relative to the worst misses (8 s, 0.3 K): trial 2 by 1, trial 3 by 0.25 and 1, trial 4 by 0.5
    assert "nearest miss: trial 4 breaks margin_steam_s by 4.00 s" in text


def not_ready_of(trial: int, **more: float | str) -> Row:
    return {"generation": 0, **not_ready(trial), **more}


def test_a_family_that_never_comes_through_is_told_by_its_reasons() -> None:
    text = said(
        coil(1, 0.3, 100.0),
        not_ready_of(2),
        not_ready_of(3, shortfall=0.1),
        not_ready_of(4, reason="steam", shortfall=0.9),
    )
    assert "none comes through: not ready 2, steam 1" in text
    assert "nearest: trial 3, not ready, short by 0.100" in text


def test_a_family_that_was_not_tried_is_said_so() -> None:
    assert "no design of it has been evaluated yet" in said(coil(1, 0.3, 100.0))
    assert "no design of it has been evaluated yet" in said()
    alone = standing(table_of([plain(1, 0.3, 100.0)], SCHEMA), "dual_boiler_coil", compared=("dual_boiler",))
    assert "not in this sweep" in alone.notes[0]
    with pytest.raises(InputError, match="thermoblok"):
        said(family="thermoblok")


def test_many_are_shown_by_the_nearest() -> None:
    rows = [coil(1, 0.1, 50.0)]
    rows += [plain(k, 0.2 + 0.01 * k, 100.0 - k) for k in range(2, 40)]
    table = standing(table_of(rows, SCHEMA), "dual_boiler", compared=BOTH).table
    assert table is not None
    assert table.num_rows == MOST_ROWS
    for width in (60, 80, 200):
        assert all(len(line) <= width for line in as_text(table, width=width).splitlines())


def test_a_run_with_nothing_feasible_has_no_front_and_is_explained_all_the_same() -> None:
    text = said(plain(1, 0.2, 90.0, feasible=False, margin_steam_s=-8.0))
    assert "0 are on the front of 0" in text
    assert "nearest miss: trial 1" in text


def test_few_designs_are_said_to_be_few() -> None:
    few = said(coil(0, 0.1, 10.0), *(plain(n, 0.5, 120.0 + n) for n in range(1, FEW)))
    assert f"{FEW - 1} are few to judge a family by" in few
    assert 'architecture = "dual_boiler"' in few
    assert "are few" not in said(coil(0, 0.1, 10.0), *(plain(n, 0.5, 120.0 + n) for n in range(1, FEW + 1)))


def test_why_most_of_a_family_fail_is_said_beside_its_best() -> None:
    text = said(
        coil(1, 0.3, 100.0),
        plain(2, 0.5, 120.0, first_shot_K=-0.1, fast_shot_K=-0.5),
        plain(3, 0.5, 95.0, feasible=False, margin_steam_s=-2.0),
        not_ready_of(4),
    )
    assert "did not come through: not ready 1" in text
    assert "came through but broke: margin_steam_s 1" in text
    assert "shots of its steadiest, trial 2" in text
    assert text.index("fast_shot_K -0.5") < text.index("first_shot_K -0.1")
