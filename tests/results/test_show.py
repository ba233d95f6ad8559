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
from tests.results.rows import SCHEMA, not_ready, row, rows

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
        "trial  shot_deviation_K  warm_up_s  feasible",
        "                      K          s",
        "─────  ────────────────  ─────────  ────────",
        "    7              0.46        322  yes",
        "    8              0.00          –  no",
    ]
    # no wider than asked: heads are folded at their underscores
    assert _text(40, columns, table)[:2] == [
        "             shot_",
        "trial  deviation_K  warm_up_s  feasible",
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


def test_few_rows_without_room_stand_side_by_side() -> None:
    columns = [
        "trial",
        "architecture",
        "warm_up_s",
        "coil_length_m",
        "shot_deviation_K",
        "mass_kg",
        "control",
    ]
    one = row(1, architecture="dual_boiler", warm_up_s=321.5, coil_length_m=None, control="pid")
    two = row(2, architecture="dual_boiler_coil", warm_up_s=99.0, coil_length_m=0.5, control="pid")
    known = {"shot_deviation_K": 0.5, "generation": 0}
    few = table_of([{**one, **known}, {**two, **known, "shot_deviation_K": 0.25}], SCHEMA)
    assert _text(50, columns, few) == [
        "trial             1            2",
        "architecture      dual_boiler  dual_boiler_coil",
        "warm_up_s         322 s        99 s",
        "coil_length_m     –            0.500 m",
        "shot_deviation_K  0.50 K       0.25 K",
        "",
        "the same in all rows: control pid",
        "",
        "without a value in these rows: mass_kg",
    ]
    assert any(line.startswith("trial  ") for line in _text(70, columns, few)[:3])  # with room a line a row
    assert any("not shown" in line for line in _text(40, columns, few))


def test_a_long_text_is_folded_into_the_room_that_is_left_wherever_it_stands() -> None:
    reason = "the level fell below the element, the brew boiler never came into its band"
    table = table_of(
        [{**not_ready(trial), "reason": f"{reason} {trial}", "generation": 0} for trial in range(6)], SCHEMA
    )
    for columns in (["trial", "reason"], ["trial", "reason", "generation", "brew_volume_mL"]):
        for width in (30, 45, 60, 200):
            lines = _text(width, columns, table)
            assert max(map(cell_len, lines)) <= width
            assert "not shown" not in " ".join(lines)
            words = " ".join(" ".join(lines[2:]).split())
            assert words.count("its band") == 6
            assert (len(lines) == 8 + 2 * (len(columns) > 2)) == (width == 200)  # no line of units
    assert any("not shown" in line for line in _text(20, ["trial", "reason"], table))


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
