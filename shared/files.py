"""Durable file work: whatever must survive a crash, a full disk or a power cut goes through here.

A file is written under a temporary name in the folder where it shall lie, flushed to the disk, renamed, and
the folder is flushed: a reader sees the old file or the new one, never half of one. Every primitive operation
is a method of `Disk`, so that a test can put one in its place that fails at any call or forgets what was not
flushed.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

from boilerfront.shared.errors import BadPartError, StoppedEarlyError

TEMPORARY_SUFFIX = ".tmp"
DIGEST_DIGITS = 16
"""Hexadecimal digits of a SHA-256 that a file's name carries."""


class DiskError(StoppedEarlyError):
    """The disk refused: full, read-only, gone, or not ours to write. What was there before still is."""

    def __init__(self, path: Path, cause: OSError) -> None:
        self.path = path
        self.errno = cause.errno
        super().__init__(f"cannot write {path}: {cause.strerror or cause}")


class Disk:
    """The primitive operations on files; each may raise OSError."""

    def open(self, path: Path, flags: int) -> int:
        """Return a descriptor of `path`; children do not inherit it."""
        return os.open(path, flags, 0o666)

    def write(self, descriptor: int, data: bytes) -> None:
        """Write all of `data`."""
        view = memoryview(data)
        while view:
            view = view[os.write(descriptor, view) :]

    def truncate(self, descriptor: int) -> None:
        """Empty the file and go to its start."""
        os.ftruncate(descriptor, 0)
        os.lseek(descriptor, 0, os.SEEK_SET)

    def flush(self, descriptor: int) -> None:
        """Return once the file's content is on the disk."""
        os.fsync(descriptor)

    def close(self, descriptor: int) -> None:
        """Give the descriptor back."""
        os.close(descriptor)

    def rename(self, source: Path, target: Path) -> None:
        """Put `source` in the place of `target`, in one step."""
        os.replace(source, target)

    def unlink(self, path: Path) -> None:
        """Take the name `path` away."""
        os.unlink(path)

    def make_folder(self, path: Path) -> None:
        """Make one folder."""
        os.mkdir(path)

    def flush_folder(self, folder: Path) -> None:
        """Return once the names in `folder` are on the disk."""
        descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


DISK = Disk()


def sha256_hex(data: bytes) -> str:
    """Return the SHA-256 of `data` as 64 hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def short_digest(data: bytes) -> str:
    """Return the first digits of the SHA-256, as file names carry them."""
    return sha256_hex(data)[:DIGEST_DIGITS]


def write_atomically(path: Path, data: bytes) -> None:
    """Put `data` at `path`, whole and flushed, or leave what was there.

    Raises `DiskError`. One writer per path is assumed (the run's lock sees to that).
    """
    temporary = path.with_name(path.name + TEMPORARY_SUFFIX)
    with _refused_as_disk_error(path):
        try:
            _write_new(temporary, data)
            DISK.rename(temporary, path)
        except OSError:
            # The leftover is harmless (readers skip its suffix), so a second refusal is not worth a word.
            with contextlib.suppress(OSError):
                DISK.unlink(temporary)
            raise
        DISK.flush_folder(path.parent)


def append(path: Path, text: str) -> None:
    """Add `text` at the end of the file `path`, which is made where missing; flushed on return.

    A path in the text that is not UTF-8 is written with escapes. Raises `DiskError`. A crash may tear the
    text added last, nothing before it.
    """
    with _refused_as_disk_error(path):
        new = not path.exists()
        with _opened(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND) as descriptor:
            DISK.write(descriptor, text.encode(errors="backslashreplace"))
            DISK.flush(descriptor)
        if new:
            DISK.flush_folder(path.parent)


def remove(*paths: Path) -> None:
    """Remove files, durably; one that is not there is no error. Raises `DiskError`."""
    for path in paths:
        with _refused_as_disk_error(path), contextlib.suppress(FileNotFoundError):
            DISK.unlink(path)
    for folder in sorted({path.parent for path in paths}):
        with _refused_as_disk_error(folder):
            DISK.flush_folder(folder)


def move(source: Path, target: Path) -> None:
    """Give a file another name, durably; `target`'s folder is made where missing. Raises `DiskError`."""
    make_folder(target.parent)
    with _refused_as_disk_error(target):
        DISK.rename(source, target)
        DISK.flush_folder(target.parent)
        if source.parent != target.parent:
            DISK.flush_folder(source.parent)


def make_folder(path: Path) -> None:
    """Make a folder and those above it, durably; one that is there is no error. Raises `DiskError`."""
    if path.is_dir():
        return
    make_folder(path.parent)
    with _refused_as_disk_error(path), contextlib.suppress(FileExistsError):
        DISK.make_folder(path)
        DISK.flush_folder(path.parent)


def read_checked(path: Path, digest: str) -> bytes:
    """Return the bytes of `path`, whose SHA-256 must begin with `digest`.

    Raises `BadPartError` when it does not, `FileNotFoundError` when there is no such file.
    """
    data = path.read_bytes()
    if not digest or not sha256_hex(data).startswith(digest):
        raise BadPartError(f"{path.name}: its {len(data)} bytes do not have the digest in its name")
    return data


def _write_new(path: Path, data: bytes) -> None:
    with _opened(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC) as descriptor:
        DISK.write(descriptor, data)
        DISK.flush(descriptor)


@contextlib.contextmanager
def _opened(path: Path, flags: int) -> Iterator[int]:
    descriptor = DISK.open(path, flags)
    try:
        yield descriptor
    finally:
        DISK.close(descriptor)


@contextlib.contextmanager
def _refused_as_disk_error(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise DiskError(path, error) from error
