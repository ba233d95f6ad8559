"""The schema: columns in order, each field explained, and no row that does not fit."""

from __future__ import annotations

import json
import math

import pyarrow as pa
import pytest

from boilerfront.model.glossary import COLUMNS, OBJECTIVES
from boilerfront.results.schema import Provenance, RowError, group_of, ledger_schema, metadata_of, table_of
from tests.results.rows import PROVENANCE, SCHEMA, VARIABLES, row, rows


def test_order_is_keys_variables_then_the_glossary() -> None:
    names = SCHEMA.names
    assert names[:6] == ["trial", "generation", *VARIABLES]
    assert names[6:10] == list(OBJECTIVES)
    assert names[6:] == [name for name, c in COLUMNS.items() if c.group not in ("key", "variable")]
    assert len(set(names)) == len(names)


def test_types() -> None:
    types = {name: str(SCHEMA.field(name).type) for name in SCHEMA.names}
    assert (types["trial"], types["generation"], types["architecture"]) == ("int64", "int32", "string")
    assert {types[name] for name in OBJECTIVES} == {"double"}
    assert (types["control"], types["coil_length_m"], types["feasible"]) == ("string", "double", "bool")


def test_each_field_names_unit_statistic_samples_and_sites() -> None:
    for name in (*OBJECTIVES, "margin_steam_s"):
        metadata = metadata_of(SCHEMA.field(name))
        assert metadata["statistic"] == "second largest of 8"
        assert metadata["samples"] == "8"
        assert json.loads(metadata["sites"]) == ["230 V 10 A"]
    assert metadata_of(SCHEMA.field("warm_up_s"))["unit"] == "s"
    for name in ("warm_up_s_nominal", "mass_kg"):
        assert metadata_of(SCHEMA.field(name))["statistic"] == "nominal"
    assert "statistic" not in metadata_of(SCHEMA.field("brew_volume_mL"))
    assert all({"unit", "text", "group", "digits"} <= metadata_of(f).keys() for f in SCHEMA)


def test_the_currency_is_named() -> None:
    schema = ledger_schema([], Provenance("r", "h", currency="EUR"))
    assert metadata_of(schema.field("part_cost"))["unit"] == "EUR"


def test_table_metadata() -> None:
    metadata = metadata_of(SCHEMA)
    assert metadata["sweep_hash"] == PROVENANCE.sweep_hash
    assert metadata["run"] == "demo"
    assert metadata["schema_version"] == "1"
    versions = metadata_of(ledger_schema([], Provenance("r", "h", versions={"b": "2", "a": "1"})))["versions"]
    assert versions == '{"a": "1", "b": "2"}'


def test_groups() -> None:
    assert group_of(SCHEMA, "objective") == list(OBJECTIVES)
    assert group_of(SCHEMA, "variable") == list(VARIABLES)


def test_an_unknown_variable_is_refused() -> None:
    with pytest.raises(RowError, match="colour"):
        ledger_schema(["colour"], PROVENANCE)


def test_rows_are_sorted_and_what_they_lack_is_null() -> None:
    table = table_of([{**r, "generation": 0} for r in rows([9, 3, 4])], SCHEMA)
    assert table["trial"].to_pylist() == [3, 4, 9]
    assert table["warm_up_s"].to_pylist()[0] is None
    assert table.schema.equals(SCHEMA, check_metadata=True)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"warm_up_s": math.nan}, "trial 5: warm_up_s is nan"),
        ({"part_cost": math.inf}, "trial 5: part_cost is inf"),
        ({"shot_deviation": 0.5}, "trial 5: no such column: shot_deviation"),
        ({"warm_up_s": "slow"}, "does not fit"),
        ({"trial": None}, "needs a trial number"),
        ({"trial": 1.5}, "needs a trial number"),
        ({"trial": -1}, "needs a trial number"),
    ],
)
def test_rows_that_do_not_fit_are_refused(values: dict[str, float | str | None], words: str) -> None:
    with pytest.raises(RowError, match=words):
        table_of([{**row(5), "generation": 0, **values}], SCHEMA)


def test_whole_numbers_are_numbers() -> None:
    table = table_of([{**row(5), "generation": 0, "warm_up_s": 300, "trim_runs": 3}], SCHEMA)
    assert table["warm_up_s"].to_pylist() == [300.0]
    assert table.schema.field("warm_up_s").type == pa.float64()
