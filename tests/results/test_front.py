"""The front is exact, and its growth is measured against a reference that is fixed once."""

from __future__ import annotations

import errno
import random
from pathlib import Path

import moocore
import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.glossary import OBJECTIVES
from boilerfront.results.front import (
    Progress,
    Record,
    feasible_count,
    front_table,
    hypervolume,
    objective_values,
    read_convergence,
    read_front,
    reference_of,
    write_front,
)
from boilerfront.results.schema import metadata_of, table_of
from boilerfront.shared import files
from boilerfront.shared.errors import BadPartError
from tests.faulty_disk import RefusingDisk
from tests.results.rows import SCHEMA, row, rows


def noted(path: Path, progress: Progress, front: pa.Table) -> float | None:
    record = Record(path)
    volume = record.note(progress, objective_values(front))
    record.write()
    return volume


def _table(points: list[tuple[float, ...]], **values: bool) -> pa.Table:
    return table_of(
        [
            {**row(trial, **dict(zip(OBJECTIVES, point, strict=True))), "generation": 0, **values}
            for trial, point in enumerate(points)
        ],
        SCHEMA,
    )


def _invented(count: int) -> pa.Table:
    return table_of([{**r, "generation": 0} for r in rows(range(count))], SCHEMA)


def _dominates(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return all(a <= b for a, b in zip(one, other, strict=True)) and one != other


@given(st.lists(st.tuples(*[st.integers(min_value=0, max_value=4)] * 4), min_size=1, max_size=40))
def test_the_front_is_what_the_definition_says(points: list[tuple[int, ...]]) -> None:
    front = front_table(_table([tuple(map(float, point)) for point in points]))
    expected = [
        trial
        for trial, point in enumerate(points)
        if not any(_dominates(tuple(map(float, other)), tuple(map(float, point))) for other in points)
    ]
    assert front["trial"].to_pylist() == expected


def test_only_feasible_designs_with_all_objectives_count() -> None:
    table = _table([(1.0, 1.0, 1.0, 1.0), (2.0, 2.0, 2.0, 2.0), (3.0, 0.5, 3.0, 3.0)])
    feasible = table.column_names.index("feasible")
    verdicts = pa.array([False, True, None])
    table = table.set_column(feasible, SCHEMA.field("feasible"), verdicts)
    assert front_table(table)["trial"].to_pylist() == [1]
    assert feasible_count(table) == 1
    empty = SCHEMA.empty_table()
    assert front_table(empty).num_rows == feasible_count(empty) == 0
    assert front_table(_table([(1.0,) * 4], feasible=False)).num_rows == 0


def test_growing_by_generations_gives_the_same_front() -> None:
    table = _invented(300)
    grown = SCHEMA.empty_table()
    for first in range(0, 300, 48):
        grown = front_table(pa.concat_tables([grown, table.slice(first, 48)]))
    assert grown.equals(front_table(table))


def test_the_file_reads_back_with_all_columns_and_units(tmp_path: Path) -> None:
    path = tmp_path / "front.parquet"
    front = front_table(_invented(100))
    write_front(path, front)
    first = path.read_bytes()
    write_front(path, front)
    assert path.read_bytes() == first
    again = read_front(path)
    assert again.equals(front)
    assert metadata_of(again.schema.field("warm_up_s"))["unit"] == "s"
    assert pd.read_parquet(path)["warm_up_s"].tolist() == front["warm_up_s"].to_pylist()
    path.write_bytes(first[:100])
    with pytest.raises(BadPartError):
        read_front(path)


def test_hand_cases_of_hypervolume() -> None:
    # By hand: two unit squares and a shared one; in 3-D by inclusion and exclusion 18 - 6 + 1.
    two = np.array([(1.0, 2.0), (2.0, 1.0)])
    assert moocore.hypervolume(two, ref=[3, 3]) == pytest.approx(3, abs=1e-12)
    assert hypervolume(two, [3, 3]) * 9 == pytest.approx(3, abs=1e-12)
    three = np.array([(1.0, 2.0, 3.0), (2.0, 3.0, 1.0), (3.0, 1.0, 2.0)])
    assert hypervolume(three, [4, 4, 4]) * 64 == pytest.approx(13, abs=1e-12)
    # Dominated, doubled and outside points change nothing.
    more = np.vstack([two, two, [(2.0, 2.0), (5.0, 0.5)]])
    assert hypervolume(more, [3, 3]) * 9 == pytest.approx(3, abs=1e-12)
    assert hypervolume(np.empty((0, 2)), [3, 3]) == 0


def test_hypervolume_of_the_linear_front() -> None:
    # N equal steps of f1 + f2 = 1, reference (1, 1): (1 - 1/(N-1))/2, by hand.
    f1 = np.linspace(0, 1, 11)
    assert hypervolume(np.column_stack([f1, 1 - f1]), [1, 1]) == pytest.approx(0.45, abs=1e-12)


def test_reference_is_fixed_by_the_first_front(tmp_path: Path) -> None:
    path = tmp_path / "convergence.parquet"
    assert read_convergence(path).num_rows == 0
    assert noted(path, Progress(0, 48, 0, 1.5), SCHEMA.empty_table()) is None
    one = _table([(1.0, 100.0, 0.5, 50.0)])
    first = noted(path, Progress(1, 96, 1, 3.0), one)
    assert first == pytest.approx((1 - 1 / 1.1) ** 4)
    assert reference_of(objective_values(one)) == pytest.approx([1.1, 110, 0.55, 55])
    better = _table([(0.5, 100.0, 0.5, 50.0), (100.0, 1.0, 0.5, 50.0)])
    second = noted(path, Progress(2, 144, 3, 4.5), better)
    assert second == pytest.approx((1 - 0.5 / 1.1) * (1 - 1 / 1.1) ** 3)
    table = read_convergence(path)
    assert table.column_names == [
        "generation",
        "trials",
        "feasible",
        "front_size",
        "hypervolume",
        "seconds",
    ]
    assert table["hypervolume"].to_pylist() == [None, first, second]
    assert table["front_size"].to_pylist() == [0, 1, 2]
    assert metadata_of(pq.read_schema(path).field("seconds"))["unit"] == "s"


def test_a_generation_written_again_replaces_its_row(tmp_path: Path) -> None:
    path = tmp_path / "convergence.parquet"
    front = front_table(_invented(48))
    for generation in (0, 1, 0):
        noted(path, Progress(generation, 48, 10, 1.0), front)
    assert read_convergence(path)["generation"].to_pylist() == [0, 1]


def test_a_spoilt_record_begins_anew_and_a_full_disk_leaves_the_old(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "convergence.parquet"
    front = front_table(_invented(48))
    noted(path, Progress(0, 48, 10, 1.0), front)
    kept = path.read_bytes()
    for at in range(1, 5):
        monkeypatch.setattr(files, "DISK", RefusingDisk(at=at, number=errno.ENOSPC))
        with pytest.raises(files.DiskError):
            noted(path, Progress(1, 96, 20, 2.0), front)
        assert path.read_bytes() == kept
    monkeypatch.undo()
    path.write_bytes(kept[:50])
    noted(path, Progress(1, 96, 20, 2.0), front)
    assert read_convergence(path)["generation"].to_pylist() == [1]


def test_a_bit_flipped_in_the_body_is_noticed_or_changes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "front.parquet"
    front = front_table(_invented(200))
    write_front(path, front)
    data = path.read_bytes()
    body = len(data) - 8 - int.from_bytes(data[-8:-4], "little")  # before the footer, its length and PAR1
    draw = random.Random(1)
    for _ in range(300):
        spoilt = bytearray(data)
        spoilt[draw.randrange(body)] ^= 1 << draw.randrange(8)
        path.write_bytes(spoilt)
        try:
            values = read_front(path).replace_schema_metadata(None)
        except BadPartError:
            continue
        assert values.equals(front.replace_schema_metadata(None))
