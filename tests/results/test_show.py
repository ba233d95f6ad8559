"""A table for people fits the terminal; for programs it is exact."""

from __future__ import annotations

import errno
import io
import json
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from boilerfront.results.query import answer_from
from boilerfront.results.question import Question
from boilerfront.results.schema import metadata_of, table_of
from boilerfront.results.show import FORMATS, as_text, rendered, write_out
from boilerfront.shared import files
from boilerfront.shared.errors import InputError
from tests.faulty_disk import RefusingDisk
from tests.results.rows import SCHEMA, row, rows

TABLE = table_of([{**r, "generation": 0} for r in rows(range(20))], SCHEMA)


def _text(width: int, columns: list[str], table: pa.Table = TABLE) -> list[str]:
    return as_text(table.select(columns), width=width).splitlines()


def test_names_units_and_digits() -> None:
    table = table_of(
        [
            {**row(7, shot_deviation_K=0.456, warm_up_s=321.5, feasible=True), "generation": 0},
            {**row(8, shot_deviation_K=-0.001, warm_up_s=None, feasible=False), "generation": 0},
        ],
        SCHEMA,
    )
    columns = ["trial", "shot_deviation_K", "warm_up_s", "feasible"]
    assert _text(80, columns, table) == [
        "            shot_",
        "       deviation_",
        "trial           K  warm_up_s  feasible",
        "                K          s",
        "─────  ──────────  ─────────  ────────",
        "    7        0.46        322  yes",
        "    8        0.00          –  no",
    ]


def test_what_is_the_same_everywhere_is_said_once() -> None:
    columns = ["trial", "warm_up_s", "trim_runs", "mass_kg", "generation"]
    lines = _text(200, columns, TABLE.filter(TABLE["feasible"]))
    assert lines[-3:] == [
        "the same in all rows: trim_runs 2, generation 0",
        "",
        "without a value in these rows: mass_kg",
    ]
    assert "mass_kg" not in lines[0]
    (single,) = [
        line for line in _text(80, ["trial", "warm_up_s"], TABLE.slice(0, 1)) if line.startswith("    0")
    ]
    assert single.split() == ["0", f"{TABLE['warm_up_s'][0].as_py():.0f}"]


@given(
    width=st.integers(min_value=30, max_value=220),
    count=st.integers(min_value=1, max_value=len(SCHEMA.names)),
)
def test_no_line_is_wider_than_the_terminal_and_no_column_is_dropped_in_silence(
    width: int, count: int
) -> None:
    lines = _text(width, SCHEMA.names[:count])
    assert max(map(cell_len, lines)) <= width
    head = lines[: next(k for k, line in enumerate(lines) if line.startswith("─"))]
    shown = len(lines[len(head)].split())
    below = " ".join(lines)
    named = [
        name
        for name in SCHEMA.names[:count]
        if f"{name}," in below or f"{name} " in below or below.endswith(name)
    ]
    assert shown + len(named) >= count
    assert lines[len(head) + 1].split()[0] == "0"


def test_an_empty_table_is_a_head() -> None:
    assert len(_text(80, ["trial", "warm_up_s"], SCHEMA.empty_table())) == 3


def test_other_formats_are_exact() -> None:
    answer = answer_from(TABLE, Question(all=True, sort="trial", columns=SCHEMA.names)).table
    by_json = json.loads(rendered(answer, "json"))
    assert by_json == answer.to_pylist()
    by_csv = pd.read_csv(io.BytesIO(rendered(answer, "csv")))
    for name in ("trial", "shot_deviation_K", "coil_length_m", "feasible", "architecture"):
        values = [None if pd.isna(value) else value for value in by_csv[name].tolist()]
        assert values == answer[name].to_pylist()
    again = pq.read_table(io.BytesIO(rendered(answer, "parquet")))
    assert again.equals(answer)
    assert metadata_of(again.schema.field("warm_up_s"))["unit"] == "s"


def test_json_of_no_rows_is_an_empty_list() -> None:
    assert json.loads(rendered(SCHEMA.empty_table(), "json")) == []


def test_an_unknown_format_is_refused_with_those_there_are() -> None:
    with pytest.raises(InputError, match="text, csv, json, parquet"):
        rendered(TABLE, "xml")
    assert all(rendered(TABLE, form) for form in FORMATS)


def test_an_answer_is_written_whole_or_the_place_is_to_blame(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_out(tmp_path / "front.csv", b"a\n")
    assert (tmp_path / "front.csv").read_bytes() == b"a\n"
    with pytest.raises(InputError, match="--out"):
        write_out(tmp_path / "no such folder" / "front.csv", b"a\n")
    monkeypatch.setattr(files, "DISK", RefusingDisk(at=1, number=errno.ENOSPC))
    with pytest.raises(InputError, match="No space left"):
        write_out(tmp_path / "front.csv", b"b\n")
    assert (tmp_path / "front.csv").read_bytes() == b"a\n"
