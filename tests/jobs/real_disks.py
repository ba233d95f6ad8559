"""A small disk that fills up and a read-only one, real ones, in a mount namespace of this process alone.

`unshare --map-root-user --mount python -m tests.jobs.real_disks FOLDER full COUNT` (or `readonly`) prints as JSON for
each of COUNT shots what was said and whether the run is the undisturbed one after the disk can be written again.
"""

from __future__ import annotations

import json
import random
import shutil
import subprocess
import sys
from dataclasses import asdict
from pathlib import Path

from boilerfront.results.ledger import part_names
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared.errors import BoilerfrontError
from tests.torture.stage import CountingToy, Shot, Stage, acknowledged, trials_of

PAGE_KIB = 4
ROOMY = "16m"

Outcome = dict[str, object]


def full(stage: Stage, disk: Path, shot: int) -> Outcome:
    """Run on a tmpfs that is too small for it, the more so the lower `shot`; then make it larger and go on."""
    _mount("-t", "tmpfs", "-o", f"size={PAGE_KIB * (1 + shot) * (2 + shot)}k", "small", disk)
    run, evaluate = RunFolder(disk / "toy"), CountingToy()
    with acknowledged() as kept:
        said = _attempt(stage, run, evaluate)
    _mount("-o", f"remount,size={ROOMY}", disk)
    return _told(run, stage.gone_on_with(run, evaluate, kept), kept, said)


def readonly(stage: Stage, disk: Path, shot: int) -> Outcome:
    """Resume a run that lacks a part on a bind mount that is read-only, then on one that is not."""
    below = disk.parent / f"below{shot}"
    shutil.copytree(stage.whole.path, below / "toy")
    parts = part_names(below / "toy" / "trials")
    parts[shot % len(parts)].path.unlink()
    _mount("--bind", below, disk)
    _mount("-o", "remount,bind,ro", disk)
    run, evaluate = RunFolder(disk / "toy"), CountingToy()
    kept = trials_of(run)  # it can be read all the while
    said = _attempt(stage, run, evaluate)
    _mount("-o", "remount,bind,rw", disk)
    return _told(run, stage.gone_on_with(run, evaluate, kept, found=len(kept)), kept, said)


def _attempt(stage: Stage, run: RunFolder, evaluate: CountingToy) -> str:
    try:
        stage.started(run, evaluate)
    except BoilerfrontError as error:
        return str(error)
    return ""


def _told(run: RunFolder, shot: Shot, kept: set[int], said: str) -> Outcome:
    subprocess.run(["umount", run.path.parent], check=True)
    return {**asdict(shot), "said": said, "kept": len(kept)}


def _mount(*words: str | Path) -> None:
    subprocess.run(["mount", *words], check=True)


if __name__ == "__main__":
    place = Path(sys.argv[1])
    for folder in ("disk", "stage"):
        (place / folder).mkdir()
    one_stage = Stage(place / "stage", random.Random(1))
    act = {"full": full, "readonly": readonly}[sys.argv[2]]
    print(json.dumps([act(one_stage, place / "disk", shot) for shot in range(int(sys.argv[3]))]))
