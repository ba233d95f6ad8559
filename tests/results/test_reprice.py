"""New prices where several markets share a design: each site's own bill, and what is told of all."""

from __future__ import annotations

import pytest

from boilerfront.model.brief import Brief
from boilerfront.model.cost import assembly_line, part_lines, plant_of
from boilerfront.model.glossary import site_columns
from boilerfront.model.prices import ITEMS, PriceBook
from boilerfront.model.site import Markets, Site
from boilerfront.model.variables import Value
from boilerfront.results.reprice import reprice
from boilerfront.results.schema import Provenance, Row, ledger_schema, table_of
from boilerfront.shared.errors import InputError
from tests.results.rows import SCHEMA, not_ready, row, rows

SITES = {"eu": Site(), "us": Site(name="120 V 15 A", voltage_V=120.0, current_limit_A=12.0)}
VARIABLES = ("architecture", "brew_volume_mL", "brew_power_W@eu", "brew_power_W@us")
OLD = PriceBook(prices={item: 1.0 + k / 7 for k, item in enumerate(ITEMS)})
NEW = PriceBook(prices={**OLD.prices, "element": 0.5, "labour": 2.0}, currency="CHF")


def _brief(book: PriceBook, **weights: float) -> Brief:
    return Brief(prices=book, sites=SITES, markets=Markets(weights=weights))


def _costs(volume: float, powers: dict[str, float], brief: Brief) -> dict[str, float]:
    """Return the costs by column of a design, rated by hand."""
    own, assembly = {}, 0.0
    for site in SITES:
        design: dict[str, Value] = {
            "architecture": "dual_boiler",
            "brew_volume_mL": volume,
            "brew_power_W": powers[site],
        }
        plant = plant_of(design, brief.by_site()[site])
        own[site] = sum(line.cost for line in part_lines(plant, brief.prices))
        assembly = max(assembly, assembly_line(plant, brief.prices).cost)
    weights = brief.markets.weights
    mean = sum(weights[site] * own[site] for site in own) / sum(weights.values()) if weights else 0.0
    told = mean if weights else max(own.values())
    by_site = {f"part_cost@{site}": cost for site, cost in own.items()}
    return {"part_cost": told, "part_cost_nominal": told, "assembly_cost": assembly, **by_site}


@pytest.mark.parametrize("weights", [{}, {"eu": 3.0, "us": 1.0}])
def test_each_market_pays_its_own_elements(weights: dict[str, float]) -> None:
    designs = [(300.0, {"eu": 900.0, "us": 1400.0}), (500.0, {"eu": 1200.0, "us": 700.0})]
    columns = site_columns(tuple(SITES), VARIABLES)
    schema = ledger_schema(VARIABLES, Provenance("x", "0" * 64, sites=tuple(SITES)), columns=columns)
    before, after = _brief(OLD, **weights), _brief(NEW, **weights)
    listed: list[Row] = []
    for k, (volume, powers) in enumerate(designs):
        own: dict[str, Value] = {f"brew_power_W@{site}": power for site, power in powers.items()}
        own |= {"architecture": "dual_boiler", "brew_volume_mL": volume, **_costs(volume, powers, before)}
        values = {**row(k), **own, "generation": 0}
        listed.append({name: value for name, value in values.items() if name in schema.names})
    result = reprice(table_of(listed, schema), before, NEW)
    assert result.foreign == 0
    for each, (volume, powers) in zip(result.trials.to_pylist(), designs, strict=True):
        expected = _costs(volume, powers, after)
        assert {name: each[name] for name in expected} == pytest.approx(expected, rel=1e-12)


def test_without_a_cost_there_is_nothing_to_reprice() -> None:
    with pytest.raises(InputError, match="nothing to reprice"):
        reprice(table_of([{**not_ready(3), "generation": 0}], SCHEMA), Brief(prices=OLD), NEW)
    with pytest.raises(InputError, match="nothing to reprice"):
        reprice(table_of([], SCHEMA).select([]), Brief(prices=OLD), NEW)


def test_rows_without_a_cost_stay_as_they_are() -> None:
    table = table_of([{**each, "generation": 0} for each in rows(range(8))], SCHEMA)
    result = reprice(table, Brief(prices=OLD), NEW)
    assert result.trials["part_cost"][3].as_py() is None
    assert result.trials.drop_columns(["part_cost", "part_cost_nominal", "assembly_cost"]).equals(
        table.drop_columns(["part_cost", "part_cost_nominal", "assembly_cost"])
    )
    assert result.foreign == 7  # invented costs
