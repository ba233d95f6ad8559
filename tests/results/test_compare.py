"""Fronts side by side: shares, dominance, what only one has; and what must not be compared in silence."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from boilerfront.model.glossary import OBJECTIVES
from boilerfront.results.compare import BEYOND_WORST, Comparison, Side, compare
from boilerfront.results.compare_plot import FORMATS, picture
from boilerfront.results.compare_tables import (
    best_table,
    comparison_text,
    coverage_table,
    standing_table,
    union_table,
)
from boilerfront.results.front import front_table
from boilerfront.results.resolution import RESOLUTION
from boilerfront.results.schema import Provenance, ledger_schema, table_of, unit_of
from boilerfront.shared.errors import InputError
from tests.results.rows import PROVENANCE, VARIABLES, row

NUMBERS = st.floats(min_value=0, max_value=1)
POINTS = st.lists(st.tuples(*[NUMBERS] * 4), min_size=0, max_size=12)


def _side(
    name: str,
    points: Sequence[tuple[float, ...]],
    provenance: Provenance = PROVENANCE,
    kind: str = "dual_boiler",
) -> Side:
    """Return the front of designs with these objectives: deviation, warm-up, energy, cost."""
    named = [dict(zip(OBJECTIVES, point, strict=True)) for point in points]
    rows = [{**row(k, **point, architecture=kind), "generation": 0} for k, point in enumerate(named)]
    return Side(name, front_table(table_of(rows, ledger_schema(VARIABLES, provenance))), len(points))


def _text(comparison: Comparison, width: int = 100) -> str:
    return "\n".join(comparison_text(comparison, width=width))


def test_two_fronts_by_hand() -> None:
    a = _side("a", [(0.2, 600.0, 0.5, 100.0), (1.0, 200.0, 0.5, 100.0)])
    b = _side("b", [(0.2, 610.0, 0.5, 100.0), (0.6, 400.0, 0.5, 100.0)])
    first, second = compare([a, b]).standings
    assert first.dominated.tolist() == [False, False]
    assert second.dominated.tolist() == [True, False]
    # In differences of 0.05 K and 10 s: to (0.2, 600) b lacks 1, to (1.0, 200) it lacks 20;
    # to (0.2, 610) a lacks nothing, to (0.6, 400) it lacks 8 one way and 20 the other.
    assert first.lead == pytest.approx([1.0, 20.0])
    assert second.lead == pytest.approx([0.0, 8.0])
    assert first.unmatched.tolist() == [False, True]
    # Scaled: deviation over 0.8 K, warm-up over 410 s, the reference at 1.1; energy and cost do not vary.
    side, width = 1.0 + BEYOND_WORST, 400 / 410
    of_a = (side - 1.0) * side + (1.0 - 0.0) * (side - width)
    of_b = (side - 1.0) * side + 0.0
    of_b = (side - 0.0) * (side - 1.0) + (side - 0.5) * (1.0 - 200 / 410)
    union = (side - 0.0) * (side - width) + (side - 0.5) * (width - 200 / 410) + (side - 1.0) * (200 / 410)
    assert of_a == pytest.approx((side - 0.0) * (side - width) + (side - 1.0) * width)
    assert first.hypervolume == pytest.approx(of_a / union)
    assert second.hypervolume == pytest.approx(of_b / union)
    assert first.alone == pytest.approx(1 - of_b / union)
    assert second.alone == pytest.approx(1 - of_a / union)


@given(st.lists(POINTS, min_size=2, max_size=4))
def test_what_holds_for_any_fronts(fronts: list[list[tuple[float, ...]]]) -> None:
    sides = [
        _side(str(k), [(a, 500 * b, c, 100 * d) for a, b, c, d in points]) for k, points in enumerate(fronts)
    ]
    comparison = compare(sides)
    alone = [each.alone for each in comparison.standings]
    assert sum(alone) <= 1.0 + 1e-9
    for k, each in enumerate(comparison.standings):
        assert -1e-9 <= each.alone <= each.hypervolume + 1e-9 <= 1.0 + 2e-9
        assert not each.dominated_by[:, k].any()
        assert not (each.dominated & each.unmatched).any()
        others = [o.values for o in comparison.standings if o is not each]
        for row_values, dominated, lead in zip(each.values, each.dominated, each.lead, strict=True):
            rest = np.concatenate(others)
            worse = (rest - row_values).max(axis=1) if len(rest) else np.array([np.inf])
            assert lead == pytest.approx(worse.min())
            strictly = ((rest <= row_values).all(axis=1) & (rest < row_values).any(axis=1)).any()
            assert bool(dominated) == bool(strictly)
        places = each.leaders()
        assert len(set(places)) == len(places)
        assert all(each.unmatched[place] for place in places)


def test_a_front_with_itself_is_equal_throughout() -> None:
    points = [(0.2, 600.0, 0.5, 100.0), (1.0, 200.0, 0.5, 90.0)]
    for each in compare([_side("a", points), _side("b", points)]).standings:
        assert each.hypervolume == pytest.approx(1.0)
        assert each.alone == pytest.approx(0.0)
        assert not each.dominated.any()
        assert not each.unmatched.any()


def test_tables_and_words_of_three_runs() -> None:
    sides = [
        _side("first", [(0.2, 600.0, 0.5, 100.0), (1.0, 200.0, 0.5, 100.0)]),
        _side("second", [(0.6, 400.0, 0.5, 100.0)], kind="heat_exchanger"),
        _side("third", [(1.0, 700.0, 0.6, 120.0)]),
    ]
    comparison = compare(sides)
    standing = standing_table(comparison)
    assert standing["dominated"].to_pylist() == [0.0, 0.0, 100.0]
    assert standing["front"].to_pylist() == [2, 1, 1]
    assert coverage_table(comparison)["by second"].to_pylist() == [0.0, None, 100.0]
    assert best_table(comparison)["warm_up_s"].to_pylist() == [200.0, 400.0, 700.0]
    assert best_table(comparison)["families"].to_pylist() == [
        "dual_boiler 2",
        "heat_exchanger 1",
        "dual_boiler 1",
    ]
    text = " ".join(_text(comparison).split())
    assert "heat_exchanger is on the front of second alone" in text
    assert "first has 2 of 2 designs to which the others have no equal" in text
    assert "third has" not in text
    for width in (60, 80, 140):
        assert max(map(cell_len, _text(comparison, width).splitlines())) <= width


def test_all_fronts_in_one_table_with_their_run() -> None:
    dollars = Provenance(run="x", sweep_hash="0" * 64, currency="USD")
    comparison = compare(
        [_side("a", [(0.2, 600.0, 0.5, 100.0)]), _side("b", [(0.3, 700.0, 0.6, 90.0)], dollars)]
    )
    table = union_table(comparison)
    assert table["run"].to_pylist() == ["a", "b"]
    assert table["dominated"].to_pylist() == [False, True]  # in what both have in one unit
    assert table["part_cost"].to_pylist() == [100.0, 90.0]
    assert unit_of(table.schema.field("part_cost")) == "currency or USD"
    assert unit_of(table.schema.field("warm_up_s")) == "s"


def test_runs_whose_columns_differ_keep_all_of_them() -> None:
    narrow = ledger_schema(("architecture", "brew_volume_mL"), PROVENANCE)
    front = table_of(
        [{**row(5), "generation": 0, **dict.fromkeys(OBJECTIVES, 1.0)}], ledger_schema(VARIABLES, PROVENANCE)
    )
    other = Side("b", front.select(narrow.names).cast(narrow), 1)
    table = union_table(compare([Side("a", front, 1), other]))
    assert "control" in table.column_names
    assert table["control"].to_pylist()[1] is None


def test_what_does_not_mean_the_same_is_said() -> None:
    other = Provenance(
        run="x",
        sweep_hash="0" * 64,
        statistic="nominal",
        samples=1,
        sites=("120 V 15 A", "100 V 15 A"),
        currency="USD",
    )
    comparison = compare(
        [_side("a", [(0.2, 600.0, 0.5, 100.0)]), _side("b", [(0.3, 500.0, 0.5, 1.0)], other)]
    )
    assert comparison.objectives == ("shot_deviation_K", "warm_up_s", "energy_kWh_day")
    assert comparison.cautions == (
        "part_cost is left out, it is not in one unit: a: currency; b: USD",
        "what the objectives are: a: second largest of 8; b: nominal, worst site",
        "machines a design: a: 8; b: 1",
        "sites: a: 230 V 10 A; b: 120 V 15 A and 100 V 15 A",
    )
    assert "caution: sites" in _text(comparison)


def test_a_front_shrinks_where_an_objective_does_not_count() -> None:
    dollars = Provenance(run="x", sweep_hash="0" * 64, currency="USD")
    points = [
        (0.2, 600.0, 0.5, 100.0),
        (0.3, 700.0, 0.6, 90.0),
    ]  # the second is on the front by its cost alone
    first, _ = compare([_side("a", points), _side("b", points, dollars)]).standings
    assert first.side.front.num_rows == 1


def test_empty_fronts_have_no_share_and_no_objective_in_common_is_refused() -> None:
    full, empty = _side("a", [(0.2, 600.0, 0.5, 100.0)]), Side("b", pa.schema([]).empty_table(), 0)
    comparison = compare([full, empty])
    assert [each.hypervolume for each in comparison.standings] == [pytest.approx(1.0), 0.0]
    assert "–" in _text(comparison)
    assert "no equal" not in _text(comparison)
    nothing = compare([empty, Side("c", pa.schema([]).empty_table(), 5)])
    assert nothing.objectives == ()
    assert "How much" in _text(nothing)
    assert union_table(nothing).num_rows == 0
    renamed = full.front.drop_columns(list(OBJECTIVES[1:])).rename_columns({OBJECTIVES[0]: "another_K"})
    with pytest.raises(InputError, match="no objective in common"):
        compare([full, Side("d", renamed, 1)])


def test_pictures_of_any_size_are_drawn() -> None:
    rng = np.random.default_rng(1)
    many = [tuple(p) for p in rng.random((300, 4)) * (1, 500, 1, 100)]
    comparison = compare([_side("a", many), _side("b", many[:1]), Side("c", pa.schema([]).empty_table(), 0)])
    starts = {"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}
    for form in FORMATS:
        assert picture(comparison, form).startswith(starts[form])
    assert picture(comparison, "svg") == picture(comparison, "svg")


def test_the_steps_are_those_of_the_table() -> None:
    (first, _) = compare(
        [_side("a", [(0.5, 100.0, 0.1, 10.0)]), _side("b", [(0.5, 100.0, 0.1, 10.0)])]
    ).standings
    expected = [0.5 / RESOLUTION["shot_deviation_K"], 10.0, 10.0, 10.0]
    assert first.values[0] == pytest.approx(expected)
