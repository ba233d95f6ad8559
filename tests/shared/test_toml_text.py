"""What is written as TOML reads back the same, bit for bit."""

from __future__ import annotations

import tomllib
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from boilerfront.shared.toml_text import toml_text

texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
plain = st.one_of(st.booleans(), st.integers(-(2**63), 2**63 - 1), st.floats(allow_nan=False), texts)
values = st.recursive(
    plain, lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(texts, inner, max_size=6))
)


@given(st.dictionaries(texts, values, max_size=6))
def test_it_reads_back_as_it_was(table: dict[str, Any]) -> None:
    assert tomllib.loads(toml_text(table)) == table


def test_what_is_missing_is_left_out() -> None:
    assert tomllib.loads(toml_text({"a": None, "b": {"c": None, "d": 1}})) == {"b": {"d": 1}}


def test_a_small_table_stands_on_one_line() -> None:
    text = toml_text(
        {"variables": {"brew_volume_mL": {"low": 200.0, "high": 800.0}, "x": 1.0, "y": 2, "z": 3}}
    )
    assert "[variables]" in text
    assert "brew_volume_mL = { low = 200.0, high = 800.0 }" in text
