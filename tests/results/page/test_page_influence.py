"""Which variables matter: shares that are known beforehand, shapes, and silence where there is too little."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest

from boilerfront.results.page.effects import shown_influence
from boilerfront.results.page.influence import Effect, Influence, influence
from boilerfront.results.page.labels import Label
from boilerfront.shared.shapes import Floats

NAMES = ["family", "straight", "bowl", "choice", "idle", "coil"]


def designs(count: int, *, noise: float = 0.0) -> tuple[pa.Table, dict[str, Floats]]:
    """Return designs of two families, and the part of the figure that each variable makes."""
    chance = np.random.default_rng(3)
    straight, bowl, idle, coil = chance.uniform(size=(4, count))
    choice = chance.integers(0, 2, size=count)
    has_coil = chance.uniform(size=count) < 0.5
    parts = {
        "straight": 1.0 * straight,
        "bowl": 4.0 * (bowl - 0.4) ** 2,
        "choice": 0.5 * choice,
        "idle": 0.0 * idle,
        # Having a coil is the family's part, how long it is the coil's.
        "family": np.where(has_coil, -0.4, 0.0),
        "coil": np.where(has_coil, -0.8 * (coil - 0.5), 0.0),
    }
    figure = np.sum(list(parts.values()), axis=0) + noise * chance.normal(size=count)
    table = pa.table(
        {
            "family": pa.array(np.where(has_coil, "with", "without")),
            "straight": straight,
            "bowl": bowl,
            "choice": pa.array(np.where(choice, "dear", "plain")),
            "idle": idle,
            "coil": pa.array(coil, mask=~has_coil),
            "figure": np.exp(5.0 * figure),  # ranks do not mind
        }
    )
    return table, parts


def by_variable(found: Influence) -> dict[str, Effect]:
    return {effect.variable: effect for effect in found.effects}


def test_shares_of_a_sum_are_its_variances() -> None:
    """Of independent parts each has its variance of the sum's; the ranks of such a sum are nearly straight in it."""
    table, parts = designs(4000)
    effects = by_variable(influence(table, NAMES, ["figure"], title="all"))
    spread = sum(float(part.var()) for part in parts.values())
    for name, part in parts.items():
        # a rank is not quite straight in the figure and a bowl is drawn by four lines: a few hundredths
        assert effects[name].strength == pytest.approx(float(part.var()) / spread, abs=0.05)


def test_an_optimum_inside_a_range_is_seen() -> None:
    table, _ = designs(4000)
    effects = by_variable(influence(table, NAMES, ["figure"], title="all"))
    assert effects["bowl"].shape == "valley"
    assert effects["bowl"].best == pytest.approx(0.4, abs=0.15)
    assert effects["straight"].shape == "rises"
    assert effects["coil"].shape == "falls"
    assert (effects["choice"].shape, effects["choice"].best) == ("choice", "plain")
    assert effects["family"].best == "with"


def test_what_is_explained_falls_with_noise() -> None:
    clear = influence(designs(1000)[0], NAMES, ["figure"], title="all").explained[0]
    noisy = influence(designs(1000, noise=1.0)[0], NAMES, ["figure"], title="all").explained[0]
    assert noisy < 0.5 < 0.9 < clear


def test_noise_alone_moves_nothing() -> None:
    table, _ = designs(2000)
    noise = table.set_column(
        table.schema.get_field_index("figure"), "figure", [np.random.default_rng(1).normal(size=2000)]
    )
    found = influence(noise, NAMES, ["figure"], title="all")
    assert max(effect.strength for effect in found.effects) < 0.01
    assert found.explained[0] < 0.01


def test_rows_without_a_figure_are_left_out() -> None:
    table, _ = designs(500)
    figure = table["figure"].to_numpy().copy()
    figure[::2] = np.nan
    half = table.set_column(table.schema.get_field_index("figure"), "figure", [figure])
    assert influence(half, NAMES, ["figure"], title="all").rows == 250


@pytest.mark.parametrize("count", [0, 1, 39, 45])
def test_too_few_designs_say_so(count: int) -> None:
    found = influence(designs(count)[0], NAMES, ["figure"], title="all")
    assert found.effects == ()
    assert str(count) in found.why_none


def test_a_variable_of_one_value_and_one_figure_for_all_do_no_harm() -> None:
    table, _ = designs(200)
    same = table.set_column(table.schema.get_field_index("figure"), "figure", [np.ones(200)])
    same = same.append_column("fixed", [np.full(200, 7.0)])
    found = influence(same, [*NAMES, "fixed"], ["figure"], title="all")
    assert "fixed" not in by_variable(found)
    assert all(effect.strength == pytest.approx(0.0, abs=1e-12) for effect in found.effects)


def test_cells_of_the_table() -> None:
    table, _ = designs(2000)
    labels = [Label(name, name, "", 2, "variable", "", "", None, "number") for name in [*NAMES, "figure"]]
    shown = shown_influence(influence(table, NAMES, ["figure"], title="all"), labels)
    cells = {row.label: row.cells[0] for row in shown.rows_of_cells}
    assert cells["idle"].words == ""
    assert cells["bowl"].words.startswith("lowest near 0.")
    assert cells["choice"].words == "plain lowest"
    assert shown.rows_of_cells[0].label == "bowl"
    # The curve is drawn downwards: where the figure is lowest the line is at the foot.
    heights = [float(point.split(",")[1]) for point in cells["straight"].points.split()]
    assert heights[0] > heights[-1]
