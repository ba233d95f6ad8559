"""Faults of disk, files and clock, in this process with the invented model."""

from __future__ import annotations

import errno
import shutil
from collections.abc import Callable
from functools import partial
from pathlib import Path

from boilerfront.results.ledger import part_names
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files
from boilerfront.shared.errors import StoppedEarlyError
from tests.faulty_disk import CountingDisk, ForgetfulDisk, PowerCut, RefusingDisk
from tests.jobs.fakes import Bench, FakeClock
from tests.torture.stage import CountingToy, MissedError, Shot, Stage, acknowledged, trials_of

Fault = Callable[[Stage], Shot]
NIGHT_S = 3600.0


def power_cut(stage: Stage, *, keep_names: bool) -> Shot:
    """Lose power at the n-th file call: what was not flushed is gone, the write under way is torn."""
    run, evaluate = stage.place(), CountingToy()
    at = stage.turn(f"power {keep_names}", lambda: _operations(stage))
    disk = ForgetfulDisk(run.path.parent, at=at, keep_names=keep_names)
    with acknowledged() as kept:
        _on(disk, lambda: stage.started(run, evaluate), PowerCut)
    disk.come_back()
    _must_have_met(disk, at)
    return stage.gone_on_with(run, evaluate, kept)


def refusing(stage: Stage, *, number: int) -> Shot:
    """Refuse the n-th file call and all later ones."""
    run, evaluate = stage.place(), CountingToy()
    at = stage.turn(f"refusing {number}", lambda: _operations(stage))
    with acknowledged() as kept:
        disk = RefusingDisk(at=at, number=number)
        _on(disk, lambda: stage.started(run, evaluate), StoppedEarlyError)
    _must_have_met(disk, at)
    return stage.gone_on_with(run, evaluate, kept)


def bad_part(stage: Stage, *, harm: Callable[[Stage, Path], None]) -> Shot:
    """Harm one part of a finished run: its trials are evaluated again, all others are kept."""
    run, evaluate = stage.place(), CountingToy()
    shutil.copytree(stage.whole.path, run.path)
    part = stage.draw.choice(part_names(run.trials))
    kept = trials_of(run) - set(range(part.first, part.last + 1))
    harm(stage, part.path)
    return stage.gone_on_with(run, evaluate, kept, found=len(kept))


def asleep(stage: Stage) -> Shot:
    """Let an hour go by between two designs."""
    run, clock = stage.place(), FakeClock()
    when = stage.draw.randrange(60)

    def sleep(count: int) -> None:
        if count >= when and clock.time < 1_800_000_000.0 + NIGHT_S:
            clock.time += NIGHT_S

    evaluate = CountingToy(before=sleep)
    stage.started(run, evaluate, bench=Bench(evaluate=evaluate, clock=clock))
    return stage.judged(run, set(), set(), evaluated=evaluate.count)


def _flip(stage: Stage, part: Path) -> None:
    data = bytearray(part.read_bytes())
    data[stage.draw.randrange(len(data))] ^= 1 << stage.draw.randrange(8)
    part.write_bytes(data)


def _delete(stage: Stage, part: Path) -> None:
    part.unlink()


def _tear(stage: Stage, part: Path) -> None:
    data = part.read_bytes()
    part.write_bytes(data[: stage.draw.randrange(len(data))])


def _exchange(stage: Stage, part: Path) -> None:
    """Put another sweep's part there: whole by its name, but not ours."""
    foreign = stage.draw.choice(part_names(stage.other.trials)).path
    part.unlink()
    shutil.copy(foreign, part.parent)


def _on(disk: CountingDisk, act: Callable[[], RunFolder], failure: type[BaseException]) -> None:
    """Do `act` on a disk that fails; it may end before the failure or outlive it."""
    files.DISK = disk
    try:
        act()
    except failure:
        pass
    finally:
        files.DISK = files.Disk()


def _must_have_met(disk: CountingDisk, at: int) -> None:
    if disk.calls < at:
        raise MissedError


def _operations(stage: Stage) -> int:
    disk = CountingDisk()
    _on(disk, lambda: stage.started(stage.place(), CountingToy()), PowerCut)
    return disk.calls


DISK_FAULTS: dict[str, Fault] = {
    "power cut, unflushed names lost": partial(power_cut, keep_names=False),
    "power cut, all names kept": partial(power_cut, keep_names=True),
    "disk full at a file call": partial(refusing, number=errno.ENOSPC),
    "read-only at a file call": partial(refusing, number=errno.EROFS),
    "part with a flipped bit": partial(bad_part, harm=_flip),
    "part missing": partial(bad_part, harm=_delete),
    "part torn": partial(bad_part, harm=_tear),
    "part of another sweep": partial(bad_part, harm=_exchange),
    "asleep for an hour": asleep,
}
