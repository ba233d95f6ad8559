"""Answers say where limits come from and what altitude has cut."""

from __future__ import annotations

import pyarrow as pa

from boilerfront.model.glossary import COLUMNS, site_columns
from boilerfront.results.column_notes import altitude_notes
from boilerfront.results.query import answer_from
from boilerfront.results.question import Question
from boilerfront.results.schema import ledger_schema, metadata_of, table_of
from tests.results.rows import PROVENANCE, SCHEMA, VARIABLES, row


def table(**values: float) -> pa.Table:
    return table_of([row(1, **values), row(2, **values)], SCHEMA)


def test_a_field_names_the_source_of_its_limit() -> None:
    for name in ("margin_mains_A", "margin_volume_category_L", "pressure_volume_bar_L"):
        assert metadata_of(SCHEMA.field(name))["source"] == COLUMNS[name].source
    assert "source" not in metadata_of(SCHEMA.field("warm_up_s"))


def test_columns_asked_for_come_with_their_source() -> None:
    asked = answer_from(table(), Question(columns="trial,margin_volume_category_L,warm_up_s"))
    notes = [note for note in asked.notes if note.startswith("margin_volume_category_L: ")]
    assert len(notes) == 1
    assert "2014/68/EU" in notes[0]
    assert "from memory" in notes[0]
    assert not any("source" in note for note in answer_from(table(), Question()).notes)


def test_the_cut_by_altitude_is_said() -> None:
    cut = answer_from(table(set_point_top_C=93.0, set_point_cut_K=3.0), Question())
    assert "altitude cuts the set-point range to 93 °C, 3 K below what was asked for" in cut.notes
    whole = answer_from(table(set_point_top_C=96.0, set_point_cut_K=0.0), Question())
    assert not any("altitude" in note for note in whole.notes)
    assert not any("altitude" in note for note in answer_from(table(), Question()).notes)


def test_the_cut_by_altitude_names_its_site() -> None:
    schema = ledger_schema(VARIABLES, PROVENANCE, columns=site_columns(("sea", "hill")))
    values = {"set_point_cut_K@sea": 0.0, "set_point_top_C@sea": 96.0}
    values |= {"set_point_cut_K@hill": 2.0, "set_point_top_C@hill": 94.0}
    notes = list(altitude_notes(table_of([row(1, **values)], schema)))
    assert notes == ["altitude at hill cuts the set-point range to 94 °C, 2 K below what was asked for"]
