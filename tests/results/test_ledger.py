"""The ledger: nothing evaluated is lost, no trial appears twice, nothing that is not whole is read."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable, Sequence
from pathlib import Path

import duckdb
import pandas as pd
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boilerfront.results import ledger as ledger_module
from boilerfront.results.ledger import Ledger, part_names, read_ledger, read_run
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import Provenance, RowError, ledger_schema, table_of
from boilerfront.shared import files
from boilerfront.shared.files import Disk
from tests.faulty_disk import ForgetfulDisk, PowerCut, RefusingDisk, operations_of
from tests.results.rows import FEW, PROVENANCE, VARIABLES, rows
from tests.results.rows import SMALL_SCHEMA as SCHEMA


@pytest.fixture
def set_disk(monkeypatch: pytest.MonkeyPatch) -> Callable[[Disk], None]:
    return lambda disk: monkeypatch.setattr(files, "DISK", disk)


def _filled(folder: Path, generations: int = 3, size: int = 8) -> Ledger:
    ledger = Ledger(folder, SCHEMA)
    for generation in range(generations):
        first = generation * size
        ledger.write_task(generation, 0, rows(range(first, first + size // 2)))
        ledger.write_task(generation, 1, rows(range(first + size // 2, first + size)))
        ledger.close_generation(generation)
    return ledger


def _trials(folder: Path) -> list[int]:
    return list(map(int, read_ledger(folder).table["trial"].to_pylist()))


def _kinds(folder: Path) -> list[str]:
    return [name.kind for name in part_names(folder)]


def test_an_empty_ledger(tmp_path: Path) -> None:
    ledger = Ledger(tmp_path / "trials", SCHEMA)
    assert ledger.load().table.equals(SCHEMA.empty_table())
    assert ledger.close_generation(0).num_rows == 0
    assert read_ledger(tmp_path / "trials").table.num_rows == 0


def test_a_finished_task_is_there_before_its_generation_closes(tmp_path: Path) -> None:
    folder = tmp_path / "trials"
    ledger = Ledger(folder, SCHEMA)
    path = ledger.write_task(0, 1, rows([5, 4]))
    assert path.name.startswith("open-000000-000001-")
    assert path.name.endswith(f"-{files.short_digest(path.read_bytes())}.parquet")
    assert _trials(folder) == [4, 5]
    assert Ledger(folder, SCHEMA).load().table["generation"].to_pylist() == [0, 0]


def test_closing_merges_and_returns_the_rows_of_the_generation(tmp_path: Path) -> None:
    folder = tmp_path / "trials"
    ledger = _filled(folder, generations=2)
    ledger.write_task(2, 1, rows([20, 21]))
    ledger.write_task(3, 0, rows([30]))
    ledger.write_task(2, 0, rows([18, 19]))
    closed = ledger.close_generation(2)
    assert closed["trial"].to_pylist() == [18, 19, 20, 21]
    assert set(closed["generation"].to_pylist()) == {2}
    assert _kinds(folder) == ["part", "part", "part", "open"]
    assert part_names(folder)[2].path.name.startswith("part-000000018-000000021-")
    assert _trials(folder) == [*range(16), 18, 19, 20, 21, 30]


def test_what_is_loaded_is_what_was_written(tmp_path: Path) -> None:
    ledger = _filled(tmp_path / "trials")
    expected = table_of([{**row, "generation": k // 8} for k, row in enumerate(rows(range(24)))], SCHEMA)
    for table in (ledger.load().table, read_ledger(tmp_path / "trials").table):
        assert table.equals(expected)
        assert table.schema.equals(SCHEMA, check_metadata=True)


def test_the_same_rows_give_the_same_bytes_however_they_were_cut(tmp_path: Path) -> None:
    _filled(tmp_path / "a", generations=1)
    other = Ledger(tmp_path / "b", SCHEMA)
    for task, trial in enumerate((7, 2, 1, 0, 6, 5, 4, 3)):
        other.write_task(0, task, rows([trial]))
    other.close_generation(0)
    (one,), (two,) = list((tmp_path / "a").iterdir()), list((tmp_path / "b").iterdir())
    assert one.name == two.name
    assert one.read_bytes() == two.read_bytes()


def test_a_task_sent_again_gives_each_trial_once(tmp_path: Path) -> None:
    folder = tmp_path / "trials"
    ledger = Ledger(folder, SCHEMA)
    ledger.write_task(0, 0, rows([0, 1, 2, 3]))
    ledger.write_task(0, 2, rows([2, 3]))
    ledger.write_task(0, 0, rows([0, 1, 2, 3]))
    assert _trials(folder) == [0, 1, 2, 3]
    assert ledger.close_generation(0)["trial"].to_pylist() == [0, 1, 2, 3]


def test_open_files_survive_the_driver_and_are_merged_by_the_next(tmp_path: Path) -> None:
    folder = tmp_path / "trials"
    Ledger(folder, SCHEMA).write_task(0, 0, rows([0, 1]))
    later = Ledger(folder, SCHEMA)
    assert later.load().table["trial"].to_pylist() == [0, 1]
    later.write_task(0, 1, rows([2, 3]))
    assert later.close_generation(0)["trial"].to_pylist() == [0, 1, 2, 3]
    assert _kinds(folder) == ["part"]


def test_a_bad_row_writes_nothing(tmp_path: Path) -> None:
    ledger = Ledger(tmp_path / "trials", SCHEMA)
    with pytest.raises(RowError):
        ledger.write_task(0, 0, [{"trial": 0, "no_such": 1.0}])
    assert not (tmp_path / "trials").exists()


def _spoil(path: Path, how: str) -> None:
    data = bytearray(path.read_bytes())
    if how == "torn":
        path.write_bytes(data[: len(data) // 2])
    elif how == "empty":
        path.write_bytes(b"")
    elif how == "longer":
        path.write_bytes(data + b"\0")
    elif how == "not parquet":
        text = b"not a Parquet file"
        path.unlink()
        path.with_name(path.name[:-24] + files.short_digest(text) + ".parquet").write_bytes(text)
    elif how == "strange name":
        path.rename(path.with_name("part-7.parquet"))


@pytest.mark.parametrize("how", ["torn", "empty", "longer", "not parquet", "strange name"])
def test_a_bad_part_is_set_aside_and_its_trials_are_missing(tmp_path: Path, how: str) -> None:
    folder = tmp_path / "trials"
    _filled(folder)
    _spoil(part_names(folder)[1].path, how)
    seen = read_ledger(folder)
    assert len(seen.messages) == 1
    assert len(list(folder.glob("*.parquet"))) == 3  # a reader changes nothing
    loaded = Ledger(folder, SCHEMA).load()
    for table in (loaded.table, seen.table):
        assert table["trial"].to_pylist() == [*range(8), *range(16, 24)]
    (message,) = loaded.messages
    assert "set aside" in message
    assert "evaluated again" in message
    assert len(list((folder / "set-aside").iterdir())) == 1
    assert Ledger(folder, SCHEMA).load().messages == ()


def test_trials_of_a_bad_part_can_be_written_again(tmp_path: Path) -> None:
    folder = tmp_path / "trials"
    expected = _filled(folder).load().table
    _spoil(part_names(folder)[1].path, "torn")
    ledger = Ledger(folder, SCHEMA)
    ledger.load()
    ledger.write_task(1, 0, rows(range(8, 16)))
    ledger.close_generation(1)
    assert ledger.load().table.equals(expected)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bits") / "trials"
    _filled(folder, generations=2).write_task(2, 0, rows([16, 17]))
    return folder


@settings(max_examples=50, deadline=None)
@given(data=st.data())
def test_any_flipped_bit_of_any_file_leaves_out_exactly_that_file(whole: Path, data: st.DataObject) -> None:
    chosen = data.draw(st.sampled_from(part_names(whole)))
    content = chosen.path.read_bytes()
    bit = data.draw(st.integers(min_value=0, max_value=8 * len(content) - 1))
    flipped = bytearray(content)
    flipped[bit // 8] ^= 1 << (bit % 8)
    chosen.path.write_bytes(flipped)
    try:
        loaded = read_ledger(whole)
    finally:
        chosen.path.write_bytes(content)
    assert len(loaded.messages) == 1
    assert chosen.path.name in loaded.messages[0]
    lost = range(16, 18) if chosen.kind == "open" else range(chosen.first, chosen.last + 1)
    assert loaded.table["trial"].to_pylist() == [trial for trial in range(18) if trial not in lost]


@pytest.mark.parametrize(
    ("schema", "words"),
    [
        (ledger_schema(VARIABLES, Provenance("other", "fedcba9876543210"), columns=FEW), "of another sweep"),
        (ledger_schema(VARIABLES[:2], PROVENANCE, columns=FEW), "other columns"),
        (
            SCHEMA.with_metadata({**SCHEMA.metadata, b"schema_version": b"99"}),
            "schema version 99",
        ),
    ],
)
def test_a_part_from_elsewhere_is_set_aside(tmp_path: Path, schema: object, words: str) -> None:
    Ledger(tmp_path / "other", schema).write_task(0, 0, [{"trial": 100, "architecture": "dual_boiler"}])
    folder = tmp_path / "trials"
    _filled(folder)
    (foreign,) = (tmp_path / "other").iterdir()
    shutil.copy(foreign, folder / foreign.name.replace("open-000000", "open-000009"))
    loaded = Ledger(folder, SCHEMA).load()
    assert loaded.table["trial"].to_pylist() == list(range(24))
    assert words in loaded.messages[0]


def test_a_reader_takes_the_sweep_that_it_is_told(tmp_path: Path) -> None:
    folder = tmp_path / "trials"
    _filled(folder, generations=1)
    Ledger(folder, ledger_schema(VARIABLES, Provenance("other", "fedc"))).write_task(9, 0, rows([90]))
    seen = read_ledger(folder, sweep_hash="0123456789abcdef")
    assert seen.table["trial"].to_pylist() == list(range(8))
    assert "another sweep" in seen.messages[0]


def test_a_run_s_reader_goes_by_its_frozen_sweep(tmp_path: Path) -> None:
    """Also where the newest file is another sweep's."""
    run = RunFolder(tmp_path)
    _filled(run.trials, generations=1)
    Ledger(run.trials, ledger_schema(VARIABLES, Provenance("other", "fedc"))).write_task(9, 0, rows([90]))
    assert run.sweep_hash is None
    run.sweep_file.write_text(f'[run]\nsweep_hash = "{PROVENANCE.sweep_hash}"\n', encoding="utf-8")
    assert read_run(run).table["trial"].to_pylist() == list(range(8))
    run.sweep_file.write_text("[run", encoding="utf-8")
    assert run.sweep_hash is None


def test_leftovers_of_a_crash_are_tidied(tmp_path: Path) -> None:
    folder = tmp_path / "trials"
    ledger = Ledger(folder, SCHEMA)
    path = ledger.write_task(0, 0, rows([0, 1]))
    data = path.read_bytes()
    ledger.close_generation(0)
    path.write_bytes(data)  # as if the crash came before the removal
    (folder / "part-x.parquet.tmp").write_bytes(b"half")
    assert _trials(folder) == [0, 1]
    loaded = Ledger(folder, SCHEMA).load()
    assert loaded.messages == ()
    assert loaded.table["trial"].to_pylist() == [0, 1]
    assert _kinds(folder) == ["part"]
    assert list(folder.glob("*.tmp")) == []


def test_a_reader_meets_a_merge(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "trials"
    ledger = Ledger(folder, SCHEMA)
    ledger.write_task(0, 0, rows([0, 1]))
    ledger.write_task(0, 1, rows([2, 3]))
    listed = part_names(folder)
    ledger.close_generation(0)
    answers = [listed]
    monkeypatch.setattr(ledger_module, "part_names", lambda f: answers.pop() if answers else part_names(f))
    assert _trials(folder) == [0, 1, 2, 3]


def test_a_dangling_name_does_not_hang_the_reader(tmp_path: Path) -> None:
    folder = tmp_path / "trials"
    _filled(folder, generations=1)
    os.symlink(tmp_path / "gone", folder / "part-000000090-000000091-0123456789abcdef.parquet")
    with pytest.raises(Exception, match="change faster"):
        read_ledger(folder)


def _one_generation(folder: Path) -> None:
    ledger = Ledger(folder, SCHEMA)
    ledger.load()
    ledger.write_task(1, 0, rows([8, 9]))
    ledger.write_task(1, 1, rows([10, 11]))
    ledger.close_generation(1)


def _start(folder: Path, set_disk: Callable[[Disk], None]) -> None:
    set_disk(Disk())
    _filled(folder, generations=1)


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS])
def test_a_disk_that_refuses_at_any_call_loses_nothing_that_was_written(
    tmp_path: Path, set_disk: Callable[[Disk], None], number: int
) -> None:
    _start(tmp_path / "count", set_disk)
    total = operations_of(lambda: _one_generation(tmp_path / "count"), set_disk)
    assert total > 15
    for at in range(1, total + 1):
        folder = tmp_path / f"{at}"
        _start(folder, set_disk)
        set_disk(RefusingDisk(at=at, number=number))
        with pytest.raises(files.DiskError):
            _one_generation(folder)
        set_disk(Disk())
        assert set(range(8)) <= set(_trials(folder))
        _one_generation(folder)
        assert _trials(folder) == list(range(12))
        assert _kinds(folder) == ["part", "part"]


@pytest.mark.parametrize("keep_names", [True, False])
def test_power_cut_at_any_call_loses_no_finished_task_and_doubles_no_trial(
    tmp_path: Path, set_disk: Callable[[Disk], None], keep_names: bool
) -> None:
    _start(tmp_path / "count", set_disk)
    total = operations_of(lambda: _one_generation(tmp_path / "count"), set_disk)
    for at in range(1, total + 1):
        folder = tmp_path / f"{at}"
        _start(folder, set_disk)
        disk = ForgetfulDisk(folder, at=at, keep_names=keep_names)
        set_disk(disk)
        with pytest.raises(PowerCut):
            _one_generation(folder)
        disk.come_back()
        set_disk(Disk())
        trials = _trials(folder)
        assert trials[:8] == list(range(8))
        assert len(set(trials)) == len(trials)
        if at > 5:  # the first task's five operations are through
            assert {8, 9} <= set(trials)
        _one_generation(folder)
        assert _trials(folder) == list(range(12))


def test_compaction_keeps_every_row_and_leaves_one_file(tmp_path: Path) -> None:
    folder = tmp_path / "trials"
    ledger = _filled(folder, generations=ledger_module.COMPACT_FROM, size=2)
    before = ledger.load().table
    assert ledger.compact() == 1
    assert ledger.load().table.equals(before)
    assert ledger.compact() == 1


def test_compaction_leaves_gaps_and_few_parts_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "trials"
    ledger = _filled(folder, generations=6)
    assert ledger.compact() == 6
    monkeypatch.setattr(ledger_module, "COMPACT_FROM", 2)
    part_names(folder)[2].path.unlink()
    before = ledger.load().table
    assert ledger.compact() == 2
    assert ledger.load().table.equals(before)
    ledger.write_task(2, 0, rows(range(16, 24)))
    ledger.close_generation(2)
    assert _trials(folder) == list(range(48))
    assert ledger.compact() == 1
    assert _trials(folder) == list(range(48))


def test_compacted_parts_have_a_largest_size(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ledger_module, "COMPACT_FROM", 2)
    monkeypatch.setattr(ledger_module, "COMPACT_ROWS", 20)
    ledger = _filled(tmp_path / "trials", generations=5)
    assert ledger.compact() == 3
    assert _trials(tmp_path / "trials") == list(range(40))


@pytest.mark.parametrize("keep_names", [True, False])
def test_compaction_survives_a_power_cut_at_any_call(
    tmp_path: Path, set_disk: Callable[[Disk], None], monkeypatch: pytest.MonkeyPatch, keep_names: bool
) -> None:
    monkeypatch.setattr(ledger_module, "COMPACT_FROM", 2)
    _filled(tmp_path / "count")
    total = operations_of(Ledger(tmp_path / "count", SCHEMA).compact, set_disk)
    assert total >= 9
    for at in range(1, total + 1):
        folder = tmp_path / f"{at}"
        set_disk(Disk())
        ledger = _filled(folder)
        disk = ForgetfulDisk(folder, at=at, keep_names=keep_names)
        set_disk(disk)
        with pytest.raises(PowerCut):
            ledger.compact()
        disk.come_back()
        set_disk(Disk())
        assert _trials(folder) == list(range(24))
        again = Ledger(folder, SCHEMA)
        assert again.load().messages == ()
        assert again.compact() == 1
        assert _trials(folder) == list(range(24))


def _values(frame: pd.DataFrame, names: Sequence[str]) -> list[list[object]]:
    return [[None if pd.isna(value) else value for value in frame[name].tolist()] for name in names]


def test_other_readers_see_the_same_values(tmp_path: Path) -> None:
    folder = tmp_path / "trials"
    _filled(folder)
    ours = read_ledger(folder).table
    names = list(ours.column_names)
    expected = [ours[name].to_pylist() for name in names]
    paths = [str(name.path) for name in part_names(folder)]
    by_pandas = pd.concat([pd.read_parquet(path) for path in paths], ignore_index=True)
    assert _values(by_pandas, names) == expected
    # fetchall, not a frame: integers with nulls stay integers
    answer = duckdb.connect().execute("SELECT * FROM read_parquet($1) ORDER BY trial", [paths])
    assert [column[0] for column in answer.description] == names
    assert [list(column) for column in zip(*answer.fetchall(), strict=True)] == expected
    metadata = pq.read_metadata(paths[0]).metadata
    assert metadata[b"sweep_hash"] == b"0123456789abcdef"
