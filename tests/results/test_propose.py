"""A handful of good and different designs, and why each is one of them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boilerfront import model
from boilerfront.model import Brief, PriceBook
from boilerfront.model.prices import ITEMS
from boilerfront.results.confirm import FRESH_MACHINES, MOST_ROUNDS, confirmed_proposals
from boilerfront.results.front import front_table, objective_values
from boilerfront.results.propose import APART, proposed_rows
from boilerfront.results.reasons import reasons
from boilerfront.results.resolution import RESOLUTION
from boilerfront.results.schema import Provenance, ledger_schema, table_of
from tests.results.rows import SCHEMA, VARIABLES, row, rows

BRIEF = Brief(prices=PriceBook(prices=dict.fromkeys(ITEMS, 1.0)))


def front(count: int) -> pa.Table:
    return front_table(table_of(rows(range(count)), SCHEMA))


def design(trial: int, objectives: tuple[float, float, float, float], **values: Any) -> Any:
    named = dict(zip(RESOLUTION, objectives, strict=True))
    nominal = {f"{name}_nominal": 0.9 * value for name, value in named.items() if name != "part_cost"}
    return row(trial, **{**named, **nominal, "architecture": "dual_boiler", **values})


@given(count=st.integers(1, 30), size=st.integers(0, 200))
@settings(max_examples=15, deadline=None)
def test_picks_are_of_the_front_and_apart(count: int, size: int) -> None:
    table = front(size)
    picked = proposed_rows(table, count)
    assert picked.num_rows <= min(count, table.num_rows)
    assert picked.schema.equals(table.schema)
    trials = picked["trial"].to_pylist()
    assert len(set(trials)) == len(trials)
    assert set(trials) <= set(table["trial"].to_pylist())
    values = objective_values(picked) / np.array(list(RESOLUTION.values()))
    for k in range(1, len(values)):
        assert (np.abs(values[:k] - values[k]).max(axis=1) >= 1.0 - 1e-9).all()
    if size > 100 and count >= 2:
        assert len(set(picked["architecture"].to_pylist())) == 2
    assert picked["shot_deviation_K"].to_pylist() == sorted(picked["shot_deviation_K"].to_pylist())


def test_the_same_front_gives_the_same_picks_in_any_order() -> None:
    table = front(300)
    turned = table.take(list(range(table.num_rows))[::-1])
    assert proposed_rows(table, 6).equals(proposed_rows(turned, 6))


def test_a_family_with_one_poor_design_has_a_pick() -> None:
    good = [design(k, (0.2 + 0.1 * k, 300 - 20 * k, 0.3, 100.0)) for k in range(8)]
    poor = design(9, (1.5, 800, 0.5, 99.0), architecture="dual_boiler_coil")
    picked = proposed_rows(table_of([*good, poor], SCHEMA), 3)
    assert 9 in picked["trial"].to_pylist()


def test_of_one_cell_the_design_that_strays_least() -> None:
    same = (0.32, 305.0, 0.304, 100.3)
    table = table_of(
        [design(1, same, shot_deviation_K_nominal=0.1), design(2, same, shot_deviation_K_nominal=0.31)],
        SCHEMA,
    )
    assert proposed_rows(table, 5)["trial"].to_pylist() == [2]


def test_designs_that_hardly_differ_are_not_both_picked() -> None:
    near = [design(k, (0.30 + 0.06 * k, 300.0, 0.3, 100.0 - 0.5 * k)) for k in range(2)]
    assert proposed_rows(table_of(near, SCHEMA), 5).num_rows == 1
    assert APART * RESOLUTION["shot_deviation_K"] == pytest.approx(0.1)  # the least that a text may name


def test_reasons_name_what_is_best_and_what_it_costs() -> None:
    table = table_of(
        [
            design(1, (0.20, 400.0, 0.30, 130.0)),
            design(2, (0.60, 300.0, 0.30, 120.0)),
            design(3, (0.95, 305.0, 0.30, 100.0), architecture="dual_boiler_coil"),
        ],
        SCHEMA,
    )
    first, second, third = reasons(table, ["A", "B", "C"])
    assert first.startswith(
        "The steadiest; against B 0.40 K steadier, but ready 100 s later and 10.0 currency dearer."
    )
    assert second.startswith("Ready as soon as any; against A ready 100 s sooner and 10.0 currency cheaper")
    assert third.startswith("The cheapest and ready as soon as any; the only dual_boiler_coil of them;")
    assert "the nominal machine" not in first
    assert "no batch was rated" in first  # the statistic of these rows names no share


def test_less_than_a_tenth_of_a_kelvin_is_not_called_a_difference() -> None:
    table = table_of([design(1, (0.20, 400.0, 0.30, 100.0)), design(2, (0.28, 300.0, 0.30, 100.0))], SCHEMA)
    first, _ = reasons(table, ["A", "B"])
    assert first.startswith("As steady as any") or "by less than can be told apart" in first
    assert "0.08" not in first


def test_the_batch_is_named_with_its_share() -> None:
    provenance = Provenance(run="x", sweep_hash="0", statistic="q90 of the samples", samples=32)
    schema = ledger_schema(VARIABLES, provenance)
    (only,) = reasons(table_of([design(1, (0.2, 400.0, 0.3, 100.0))], schema), ["A"])
    assert only.endswith("Its batch keeps 0.20 K (90 % of 32 machines), its nominal machine 0.18 K.")


def test_designs_that_do_not_hold_on_fresh_machines_are_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    table = front(300)
    first = proposed_rows(table, 4)["trial"].to_pylist()
    volumes = dict(zip(table["brew_volume_mL"].to_pylist(), table["trial"].to_pylist(), strict=True))
    briefs: list[Brief] = []

    def rated(designs: Any, brief: Brief) -> list[dict[str, Any]]:
        briefs.append(brief)
        (one,) = designs
        bad = volumes[one["brew_volume_mL"]] in first[:2]
        return [{"feasible": not bad, "reason": None, "margin_steam_s": -0.5 if bad else 1.0}]

    monkeypatch.setattr(model, "evaluate_many", rated)
    said: list[str] = []
    picked, looked_at = confirmed_proposals(table, 4, BRIEF, tell=said.append)
    assert not set(first[:2]) & set(picked["trial"].to_pylist())
    assert all(looked_at[trial].holds for trial in picked["trial"].to_pylist())
    assert looked_at[first[0]].why_not == "margin_steam_s -0.5"
    assert {each.tolerances.samples for each in briefs} == {FRESH_MACHINES}
    assert {each.tolerances.seed for each in briefs} == {BRIEF.tolerances.seed + 1}
    assert said[0] == f"trial {first[0]} on 512 fresh machines, 1 of 4"


def test_where_nothing_holds_the_search_for_others_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        model, "evaluate_many", lambda designs, brief: [{"feasible": False, "reason": "steam"}]
    )
    picked, looked_at = confirmed_proposals(front(300), 2, BRIEF, tell=lambda text: None)
    assert picked.num_rows == 2
    assert len(looked_at) <= 2 * MOST_ROUNDS
    assert {found.why_not for found in looked_at.values()} == {"steam"}


def test_an_empty_front_and_a_single_design() -> None:
    assert proposed_rows(front(0), 5).num_rows == 0
    one = table_of([design(1, (0.2, 400.0, 0.3, 100.0))], SCHEMA)
    assert reasons(proposed_rows(one, 5), ["A"])[0].startswith("Dominates most")
