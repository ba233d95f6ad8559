"""Durable writes: whatever fails and whatever a power cut drops, a reader sees old or new."""

from __future__ import annotations

import errno
import hashlib
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.shared import files
from boilerfront.shared.errors import BadPartError, StoppedEarlyError
from boilerfront.shared.files import Disk
from tests.faulty_disk import CountingDisk, ForgetfulDisk, PowerCut, RefusingDisk, operations_of

OLD, NEW = b"old content\n" * 3, b"new content, a little longer\n" * 5


@pytest.fixture
def set_disk(monkeypatch: pytest.MonkeyPatch) -> Callable[[Disk], None]:
    return lambda disk: monkeypatch.setattr(files, "DISK", disk)


@given(data=st.binary(max_size=2000))
def test_digest_is_sha256(data: bytes) -> None:
    assert files.sha256_hex(data) == hashlib.sha256(data).hexdigest()
    assert files.sha256_hex(data).startswith(files.short_digest(data))


def test_digest_of_the_published_example() -> None:
    # FIPS 180-4, example of the one-block message "abc".
    assert files.short_digest(b"abc") == "ba7816bf8f01cfea"


def test_write_reads_back_and_leaves_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "ein Ordner é" / "file.bin"
    files.make_folder(path.parent)
    files.write_atomically(path, OLD)
    files.write_atomically(path, NEW)
    assert path.read_bytes() == NEW
    assert list(path.parent.iterdir()) == [path]


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS, errno.EIO])
@pytest.mark.parametrize("lasting", [True, False])
def test_write_refused_at_any_call_leaves_old_or_new(
    tmp_path: Path, set_disk: Callable[[Disk], None], number: int, lasting: bool
) -> None:
    path = tmp_path / "file"
    total = operations_of(lambda: files.write_atomically(path, OLD), set_disk)
    assert total == 5  # open, write, flush, rename, flush of the folder: none may be left out
    for at in range(1, total + 1):
        set_disk(Disk())
        files.write_atomically(path, OLD)
        set_disk(RefusingDisk(at=at, number=number, lasting=lasting))
        with pytest.raises(files.DiskError, match="cannot write") as caught:
            files.write_atomically(path, NEW)
        assert caught.value.errno == number
        assert isinstance(caught.value, StoppedEarlyError)
        assert path.read_bytes() == (OLD if at < total else NEW)


@pytest.mark.parametrize("keep_names", [True, False])
def test_write_survives_a_power_cut_at_any_call(
    tmp_path: Path, set_disk: Callable[[Disk], None], keep_names: bool
) -> None:
    for at in range(1, 7):
        path = tmp_path / str(at) / "file"
        set_disk(Disk())
        files.make_folder(path.parent)
        files.write_atomically(path, OLD)
        disk = ForgetfulDisk(path.parent, at=at, keep_names=keep_names)
        set_disk(disk)
        finished = True
        try:
            files.write_atomically(path, NEW)
        except PowerCut:
            finished = False
        disk.come_back()
        assert path.read_bytes() in ((NEW,) if finished else (OLD, NEW))


@pytest.mark.parametrize("left_out", ["flush", "flush_folder"])
def test_the_power_cut_would_catch_a_flush_that_is_left_out(
    tmp_path: Path, set_disk: Callable[[Disk], None], left_out: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "file"
    files.write_atomically(path, OLD)
    disk = ForgetfulDisk(tmp_path, at=100, keep_names=left_out == "flush")
    monkeypatch.setattr(disk, left_out, lambda _: None)
    set_disk(disk)
    files.write_atomically(path, NEW)
    disk.come_back()
    assert path.read_bytes() != NEW


def test_append_keeps_what_was_there(tmp_path: Path, set_disk: Callable[[Disk], None]) -> None:
    path = tmp_path / "run.log"
    files.append(path, "first é\n")
    for at in (1, 2, 3):
        disk = ForgetfulDisk(tmp_path, at=at)
        set_disk(disk)
        with pytest.raises(PowerCut):
            files.append(path, "second\n")
        disk.come_back()
        assert path.read_text().startswith("first é\n")
    set_disk(Disk())
    files.append(path, "last\n")
    assert path.read_text().endswith("last\n")


def test_remove_and_move(tmp_path: Path, set_disk: Callable[[Disk], None]) -> None:
    one, other = tmp_path / "one", tmp_path / "set-aside" / "one"
    files.write_atomically(one, OLD)
    files.move(one, other)
    assert other.read_bytes() == OLD
    assert not one.exists()
    files.remove(other, tmp_path / "never there")
    assert not other.exists()
    set_disk(RefusingDisk(at=1, number=errno.EROFS))
    with pytest.raises(files.DiskError, match="Read-only"):
        files.remove(other)


def test_make_folder_flushes_the_folder_above(tmp_path: Path, set_disk: Callable[[Disk], None]) -> None:
    deep = tmp_path / "a" / "b"
    disk = CountingDisk()
    set_disk(disk)
    files.make_folder(deep)
    files.make_folder(deep)
    assert deep.is_dir()
    assert disk.calls == 4


@given(place=st.integers(min_value=0, max_value=len(NEW) * 8 - 1))
def test_any_flipped_bit_is_noticed(tmp_path_factory: pytest.TempPathFactory, place: int) -> None:
    path = tmp_path_factory.mktemp("bits") / "file"
    flipped = bytearray(NEW)
    flipped[place // 8] ^= 1 << (place % 8)
    path.write_bytes(flipped)
    with pytest.raises(BadPartError, match="digest"):
        files.read_checked(path, files.short_digest(NEW))
    path.write_bytes(NEW)
    assert files.read_checked(path, files.short_digest(NEW)) == NEW


def test_no_digest_is_no_check(tmp_path: Path) -> None:
    path = tmp_path / "file"
    path.write_bytes(NEW)
    with pytest.raises(BadPartError):
        files.read_checked(path, "")
    with pytest.raises(FileNotFoundError):
        files.read_checked(tmp_path / "missing", "00")


def test_a_path_that_is_no_text_can_stand_in_a_log(tmp_path: Path) -> None:
    folder = os.fsdecode(b"caf\xe9")  # as an old file system has it: no UTF-8
    files.append(tmp_path / "log", f"{folder}: 5 designs\n")
    assert (tmp_path / "log").read_text(encoding="utf-8") == "caf\\udce9: 5 designs\n"
