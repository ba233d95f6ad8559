"""Every trial of a run, in Parquet parts whose names carry their digests: whole, or set aside.

In the folder `trials`:

    part-<first trial>-<last trial>-<digest>.parquet    the rows of one closed generation, or of several
    open-<generation>-<task>-<digest>.parquet           the rows of a finished task of an open generation
    set-aside/                                          what was torn, changed or of another sweep

Page checksums do not protect what is read (readers skip them), so only this file opens parts, and it
compares every byte with the digest. The same rows give the same bytes: fixed order, compression and metadata.
There is no index to keep in step: after a crash between a merge and the removal of what was merged, files
overlap, and the reader takes each trial once.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import Row, metadata_of, table_of
from boilerfront.shared import files
from boilerfront.shared.errors import BadPartError

SET_ASIDE = "set-aside"
COMPACT_FROM = 64
"""Parts from which on `compact` acts."""
COMPACT_ROWS = 65_536
"""Rows that a compacted part holds at most."""
PACKED_ROWS = 1_000
"""Rows from which on a part is packed: of fewer most of a file is its columns' names and texts, and packing took four
times as long to save a thirtieth."""

LISTINGS = 100
"""How often a reader lists a folder whose files go away under it."""

_NAME = re.compile(r"(part|open)-(\d+)-(\d+)-([0-9a-f]{16})\.parquet")
_SUFFIX = ".parquet"


@dataclass(frozen=True)
class Loaded:
    """All whole rows sorted by trial, each trial once, and a sentence about every file that was not used."""

    table: pa.Table
    messages: tuple[str, ...] = ()


@dataclass(frozen=True)
class PartName:
    """What a file's name says; `first`, `last` are trials of a part, generation and task of an open file."""

    path: Path
    kind: str
    first: int
    last: int
    digest: str


@dataclass(frozen=True)
class _Part:
    """A file that is whole, with its rows."""

    name: PartName
    table: pa.Table

    @property
    def trials(self) -> set[int]:
        return set(self.table["trial"].to_pylist())


class Ledger:
    """The ledger of one run, for its one driver: who only reads calls `read_run`.

    Rows given to `write_task` are on the disk when it returns. Its methods raise `files.DiskError` when the
    disk refuses; then nothing that was there is lost.
    """

    def __init__(self, folder: Path, schema: pa.Schema) -> None:
        self.folder = folder
        self.schema = schema
        self._open: dict[str, pa.Table] = {}

    def write_task(self, generation: int, task: int, rows: Iterable[Row]) -> Path:
        """Keep the rows of a finished task of an open generation."""
        stamped = [{**row, "generation": generation} for row in rows]
        return self._write(table_of(stamped, self.schema), f"open-{generation:06d}-{task:06d}")

    def write_closed(self, table: pa.Table) -> None:
        """Keep rows that are whole already, sorted by trial and each once, in as few parts as compacting makes."""
        for first in range(0, table.num_rows, COMPACT_ROWS):
            self._write_part(table.slice(first, COMPACT_ROWS))

    def close_generation(self, generation: int) -> pa.Table:
        """Merge the open files of a generation into one part and return its rows, sorted by trial.

        Files that cannot be read are left for `load` to set aside; so the caller compares the trials that
        come back with those that it asked for. No open file, no part, no rows.
        """
        names = [name for name in part_names(self.folder) if name.kind == "open" and name.first == generation]
        parts = [part for name in names if (part := self._remembered(name)) is not None]
        table = each_trial_once([part.table for part in parts], self.schema)
        if table.num_rows:
            self._write_part(table)
            self._remove(part.name.path for part in parts)
        return table

    def load(self) -> Loaded:
        """Read everything, comparing every byte with its digest; set aside what is bad, tidy leftovers."""
        if not self.folder.is_dir():
            return Loaded(self.schema.empty_table())
        parts, bad = _read_all(self.folder, self.schema)
        messages = [self._put_aside(name, fault) for name, fault in bad]
        parts, covered = _split_covered(parts)
        self._remove(part.name.path for part in covered)
        self._remove(self.folder.glob("*" + files.TEMPORARY_SUFFIX))
        self._open = {part.name.path.name: part.table for part in parts if part.name.kind == "open"}
        return Loaded(each_trial_once([part.table for part in parts], self.schema), tuple(messages))

    def compact(self) -> int:
        """Merge runs of small parts whose trials follow on one another; return how many parts are left.

        To be called when no generation is being closed. A compacted part is on the disk before what it covers
        is removed.
        """
        names = [name for name in part_names(self.folder) if name.kind == "part"]
        if len(names) < COMPACT_FROM:
            return len(names)
        for run in _runs_of_neighbours(names):
            parts = [part for name in run if (part := self._remembered(name)) is not None]
            table = each_trial_once([part.table for part in parts], self.schema)
            if len(parts) == len(run) and table.num_rows == run[-1].last - run[0].first + 1:
                self._write_part(table)
                self._remove(part.name.path for part in parts)
        return sum(name.kind == "part" for name in part_names(self.folder))

    def _write_part(self, table: pa.Table) -> Path:
        first, last = table["trial"][0].as_py(), table["trial"][-1].as_py()
        return self._write(table, f"part-{first:09d}-{last:09d}")

    def _write(self, table: pa.Table, stem: str) -> Path:
        data = part_bytes(table)
        path = self.folder / f"{stem}-{files.short_digest(data)}{_SUFFIX}"
        files.make_folder(self.folder)
        files.write_atomically(path, data)
        if stem.startswith("open"):
            self._open[path.name] = table
        return path

    def _remembered(self, name: PartName) -> _Part | None:
        """Return a file as it was written by us, else as it is on the disk, else None."""
        if name.path.name in self._open:
            return _Part(name, self._open[name.path.name])
        try:
            return _read(name, self.schema)
        except BadPartError:
            return None

    def _remove(self, paths: Iterable[Path]) -> None:
        gone = list(paths)
        if gone:
            files.remove(*gone)
        for path in gone:
            self._open.pop(path.name, None)

    def _put_aside(self, name: Path, fault: str) -> str:
        files.move(name, self.folder / SET_ASIDE / name.name)
        return f"{fault}; set aside in {SET_ASIDE}, its trials will be evaluated again"


def read_ledger(folder: Path, *, sweep_hash: str | None = None) -> Loaded:
    """Read a ledger without changing anything, also while its driver writes.

    The schema is that of the newest whole part; parts of another sweep than that one's (or than `sweep_hash`)
    and bad files are left out and named in `messages`. An empty ledger gives a table without columns.
    """
    parts, bad = _read_all(folder, None) if folder.is_dir() else ([], [])
    messages = [fault for _, fault in bad]
    of_sweep = [part for part in parts if sweep_hash in (None, _sweep_of(part.table.schema))]
    schema = of_sweep[-1].table.schema if of_sweep else pa.schema([])
    kept = []
    for part in parts:
        fault = _foreign(part.table.schema, schema, sweep_hash or _sweep_of(schema))
        if fault is None:
            kept.append(part)
        else:
            messages.append(f"{part.name.path.name}: {fault}; left out")
    needed, _ = _split_covered(kept)
    return Loaded(each_trial_once([part.table for part in needed], schema), tuple(messages))


def read_run(run: RunFolder) -> Loaded:
    """Read a run's ledger; parts of another sweep than the run's frozen one are left out and named."""
    return read_ledger(run.trials, sweep_hash=run.sweep_hash)


def part_names(folder: Path) -> list[PartName]:
    """Return the ledger's files by their names: parts by first trial, the longer first, then open files."""
    found = []
    for path in folder.iterdir() if folder.is_dir() else ():
        match = _NAME.fullmatch(path.name)
        if match:
            kind, first, last, digest = match.groups()
            found.append(PartName(path, kind, int(first), int(last), digest))
    return sorted(found, key=_order)


def part_bytes(table: pa.Table) -> bytes:
    """Return a table as a part of a ledger has it."""
    return parquet_bytes(table, passing=table.num_rows < PACKED_ROWS)


def parquet_bytes(table: pa.Table, *, page_checksums: bool = False, passing: bool = False) -> bytes:
    """Return a table as Parquet: the same rows give the same bytes.

    `page_checksums` are for files whose names carry no digest: they cover all but the footer. `passing` files are
    merged into another later: written quickly rather than small.
    """
    sink = io.BytesIO()
    packed: dict[str, Any] = {"compression": "zstd", "compression_level": 3}
    plain: dict[str, Any] = {"compression": "none", "use_dictionary": False, "write_statistics": False}
    pq.write_table(
        table.combine_chunks(),
        sink,
        version="2.6",
        write_page_checksum=page_checksums,
        **(plain if passing else packed),
    )
    return sink.getvalue()


def _order(name: PartName) -> tuple[bool, int, int, str]:
    last = -name.last if name.kind == "part" else name.last
    return (name.kind == "open", name.first, last, name.digest)


def _read_all(folder: Path, schema: pa.Schema | None) -> tuple[list[_Part], list[tuple[Path, str]]]:
    """Return the whole parts, and the bad files with what is wrong.

    A driver may merge files between the listing and the reading: then what was listed is gone, and the
    listing is made again.
    """
    for _ in range(LISTINGS):
        parts: list[_Part] = []
        bad = [(path, f"{path.name}: not a name of ours") for path in _strangers(folder)]
        try:
            for name in part_names(folder):
                try:
                    parts.append(_read(name, schema))
                except BadPartError as error:
                    bad.append((name.path, str(error)))
        except FileNotFoundError:
            continue
        return parts, bad
    raise BadPartError(f"{folder}: its files change faster than they can be read")


def _strangers(folder: Path) -> list[Path]:
    return sorted(path for path in folder.glob("*" + _SUFFIX) if not _NAME.fullmatch(path.name))


def _read(name: PartName, schema: pa.Schema | None) -> _Part:
    try:
        data = files.read_checked(name.path, name.digest)
        table = pq.ParquetFile(pa.BufferReader(data)).read(use_threads=False)
    except FileNotFoundError:
        raise
    except (pa.ArrowException, OSError) as error:
        raise BadPartError(f"{name.path.name}: cannot be read ({error})") from error
    plain = _without_reader_metadata(table.schema)
    fault = None if schema is None else _foreign(plain, schema, _sweep_of(schema))
    if fault is not None:
        raise BadPartError(f"{name.path.name}: {fault}")
    return _Part(name, table.cast(plain if schema is None else schema))


def _sweep_of(schema: pa.Schema) -> str | None:
    return metadata_of(schema).get("sweep_hash")


def _foreign(found: pa.Schema, wanted: pa.Schema, sweep_hash: str | None) -> str | None:
    """Return why a part does not belong here, or None."""
    if _sweep_of(found) != sweep_hash:
        return f"of another sweep ({(_sweep_of(found) or 'none named')[:12]})"
    version = metadata_of(found).get("schema_version")
    if version != metadata_of(wanted).get("schema_version"):
        return f"of schema version {version}"
    if not found.equals(wanted, check_metadata=False):
        return "other columns than this sweep's"
    return None


def _without_reader_metadata(schema: pa.Schema) -> pa.Schema:
    """Return the schema as it was written: reading Parquet adds a field number to each field."""
    fields = [
        f.with_metadata(
            {key: value for key, value in (f.metadata or {}).items() if key != b"PARQUET:field_id"}
        )
        for f in schema
    ]
    return pa.schema(fields, metadata=schema.metadata)


def _split_covered(parts: Sequence[_Part]) -> tuple[list[_Part], list[_Part]]:
    """Return the parts that are needed, and those whose every trial is in one of them."""
    needed: list[_Part] = []
    covered: list[_Part] = []
    seen: set[int] = set()
    for part in parts:
        trials = part.trials
        (covered if trials <= seen else needed).append(part)
        seen |= trials
    return needed, covered


def each_trial_once(tables: Sequence[pa.Table], schema: pa.Schema) -> pa.Table:
    """Return the rows of all tables sorted by trial; where two have a trial, the earlier table's."""
    if not tables:
        return schema.empty_table()
    table = pa.concat_tables([each.replace_schema_metadata(schema.metadata) for each in tables])
    trials = table["trial"].combine_chunks()
    if _is_in_order(trials):
        return table.cast(schema)  # as it is: a million rows are not to be copied
    order = pc.array_sort_indices(trials)  # stable: of two equal trials the earlier table's comes first
    ordered = trials.take(order)
    if len(ordered) > 1:
        # is_valid is a `true` for the first row that pyarrow makes without importing pandas.
        first = pa.concat_arrays([pc.is_valid(ordered[:1]), pc.not_equal(ordered[1:], ordered[:-1])])
        order = order.filter(first)
    return table.take(order).combine_chunks().cast(schema)


def _is_in_order(trials: pa.Array) -> bool:
    """Return whether each trial is larger than the one before it."""
    return bool(pc.all(pc.greater(trials[1:], trials[:-1])).as_py()) if len(trials) > 1 else True


def _runs_of_neighbours(names: Sequence[PartName]) -> list[list[PartName]]:
    """Return runs of at least two small parts, each beginning at the trial after the one before it."""
    runs: list[list[PartName]] = [[]]
    for name in names:
        run = runs[-1]
        follows = not run or name.first == run[-1].last + 1
        if not follows or (run and name.last - run[0].first + 1 > COMPACT_ROWS):
            runs.append([name])
        else:
            run.append(name)
    return [run for run in runs if len(run) > 1]
