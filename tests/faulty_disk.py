"""Disks that fail on purpose, to be put in the place of `boilerfront.shared.files.DISK`.

They work on a real folder, so that whatever reads it needs no change.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from pathlib import Path

from boilerfront.shared.files import Disk


class PowerCut(BaseException):
    """The machine is off: a BaseException, so that nobody's clean-up swallows it."""


class CountingDisk(Disk):
    """A disk that calls `before(name, number)` ahead of its every operation, counted from 1."""

    def __init__(self) -> None:
        self.calls = 0

    def before(self, name: str) -> None:
        """Count; a subclass may raise."""
        self.calls += 1

    def open(self, path: Path, flags: int) -> int:
        self.before("open")
        return super().open(path, flags)

    def write(self, descriptor: int, data: bytes) -> None:
        self.before("write")
        super().write(descriptor, data)

    def truncate(self, descriptor: int) -> None:
        self.before("truncate")
        super().truncate(descriptor)

    def flush(self, descriptor: int) -> None:
        self.before("flush")
        super().flush(descriptor)

    def rename(self, source: Path, target: Path) -> None:
        self.before("rename")
        super().rename(source, target)

    def unlink(self, path: Path) -> None:
        self.before("unlink")
        super().unlink(path)

    def make_folder(self, path: Path) -> None:
        self.before("make_folder")
        super().make_folder(path)

    def flush_folder(self, folder: Path) -> None:
        self.before("flush_folder")
        super().flush_folder(folder)


class RefusingDisk(CountingDisk):
    """Raises `OSError(number)` at the n-th operation and, where `lasting`, at every later one."""

    def __init__(self, *, at: int, number: int = errno.ENOSPC, lasting: bool = True) -> None:
        super().__init__()
        self.at, self.number, self.lasting = at, number, lasting

    def before(self, name: str) -> None:
        super().before(name)
        if self.calls == self.at or (self.lasting and self.calls > self.at):
            raise OSError(self.number, os.strerror(self.number))


class ForgetfulDisk(CountingDisk):
    """Loses power at the n-th operation; `come_back()` then leaves only what was flushed.

    The content of a file survives up to its last flush. A name (made, moved, removed) survives once its
    folder was flushed; names that were not are lost, or with `keep_names` all kept: a file system may do
    either, and both must be survived. A write in which the power goes is torn in its middle.
    """

    def __init__(self, root: Path, *, at: int, keep_names: bool = False) -> None:
        super().__init__()
        self.root, self.at, self.keep_names = root, at, keep_names
        self.folders = {folder for folder in root.rglob("*") if folder.is_dir()}
        self.names: dict[Path, int] = {}
        self.flushed: dict[int, bytes] = {}
        for path in root.rglob("*"):
            if path.is_file():
                self.names[path] = path.stat().st_ino
                self.flushed[path.stat().st_ino] = path.read_bytes()
        self.durable = dict(self.names)
        # An inode's number is used again after its removal: keep them all open, so that none is freed.
        self._kept = [os.open(path, os.O_RDONLY) for path in self.names]

    def before(self, name: str) -> None:
        super().before(name)
        if self.calls >= self.at:
            raise PowerCut(name)

    def open(self, path: Path, flags: int) -> int:
        descriptor = super().open(path, flags)
        inode = os.fstat(descriptor).st_ino
        if inode not in self.flushed:
            self._kept.append(os.dup(descriptor))
        self.names[path] = inode
        self.flushed.setdefault(inode, b"")
        return descriptor

    def write(self, descriptor: int, data: bytes) -> None:
        try:
            super().write(descriptor, data)
        except PowerCut:
            os.write(descriptor, data[: len(data) // 2])
            self._remember(descriptor)  # the torn half may reach the disk: the worse case
            raise

    def flush(self, descriptor: int) -> None:
        super().flush(descriptor)
        self._remember(descriptor)

    def rename(self, source: Path, target: Path) -> None:
        super().rename(source, target)
        self.names[target] = self.names.pop(source)

    def unlink(self, path: Path) -> None:
        super().unlink(path)
        self.names.pop(path, None)

    def make_folder(self, path: Path) -> None:
        super().make_folder(path)
        self.folders.add(path)

    def flush_folder(self, folder: Path) -> None:
        super().flush_folder(folder)
        elsewhere = {path: inode for path, inode in self.durable.items() if path.parent != folder}
        here = {path: inode for path, inode in self.names.items() if path.parent == folder}
        self.durable = elsewhere | here

    def come_back(self) -> None:
        """Put the folder into the state that the disk really had."""
        for path in self.root.rglob("*"):
            if path.is_file():
                path.unlink()
        for path, inode in (self.names if self.keep_names else self.durable).items():
            path.write_bytes(self.flushed[inode])
        for descriptor in self._kept:
            os.close(descriptor)
        self._kept = []

    def _remember(self, descriptor: int) -> None:
        size = os.fstat(descriptor).st_size
        with open(f"/proc/self/fd/{descriptor}", "rb") as stream:
            self.flushed[os.fstat(descriptor).st_ino] = stream.read(size)


def operations_of(act: Callable[[], object], set_disk: Callable[[Disk], None]) -> int:
    """Return how many disk operations `act` makes when nothing fails."""
    disk = CountingDisk()
    set_disk(disk)
    act()
    set_disk(Disk())
    return disk.calls
