"""The table of torture turns red when the product is at fault: faults are put into it on purpose."""

from __future__ import annotations

import os
import random
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest

from boilerfront.results.ledger import Ledger
from boilerfront.shared import files
from tests.faulty_disk import ForgetfulDisk
from tests.torture.__main__ import Tally
from tests.torture.disk_faults import DISK_FAULTS
from tests.torture.stage import MissedError, Stage

pytestmark = pytest.mark.slow
SHOTS = 12


def tortured(stage: Stage, fault: str) -> Tally:
    """Return what came of some shots of one fault."""
    tally = Tally()
    for _ in range(SHOTS):
        tally.take(DISK_FAULTS[fault], stage)
    return tally


@pytest.fixture(scope="module")
def only_stage(tmp_path_factory: pytest.TempPathFactory) -> Stage:
    return Stage(tmp_path_factory.mktemp("stage"), random.Random(1))


@pytest.fixture
def stage(only_stage: Stage) -> Stage:
    """Return the one stage with the draws of a new one, whichever tests came before."""
    only_stage.draw.seed(1)
    only_stage._turns.clear()
    return only_stage


@pytest.mark.parametrize("fault", ["power cut, unflushed names lost", "power cut, all names kept"])
def test_the_product_as_it_is_survives(stage: Stage, fault: str) -> None:
    assert tortured(stage, fault).is_good


def test_content_that_is_not_flushed_is_seen(stage: Stage) -> None:
    def write_new(path: Path, data: bytes) -> None:
        with files._opened(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC) as descriptor:
            files.DISK.write(descriptor, data)
            # Without its sweep a run could not even go on: that is no loss of trials.
            if ".parquet" not in path.name:
                files.DISK.flush(descriptor)

    with patch.object(files, "_write_new", write_new):
        tally = tortured(stage, "power cut, all names kept")
    assert not tally.is_good
    assert sum(shot.lost for shot in tally.shots) > 0


def test_names_that_are_not_flushed_are_seen(stage: Stage) -> None:
    real = ForgetfulDisk.flush_folder

    def flush_folder(self: ForgetfulDisk, folder: Path) -> None:
        # To the disk it is the same whether the product never asks or nothing is done about it.
        if folder.name == "trials":
            self.before("flush_folder")
        else:
            real(self, folder)

    with patch.object(ForgetfulDisk, "flush_folder", flush_folder):
        tally = tortured(stage, "power cut, unflushed names lost")
    assert not tally.is_good
    assert sum(shot.lost for shot in tally.shots) > 0


def test_a_dropped_part_is_seen(stage: Stage) -> None:
    real = Ledger.write_task

    def write_task(self: Ledger, generation: int, task: int, rows: Sequence[Any]) -> Path:
        path = real(self, generation, task, rows)
        if task == 0:
            path.unlink()
        return path

    with patch.object(Ledger, "write_task", write_task):
        tally = tortured(stage, "disk full at a file call")
    assert not tally.is_good


def test_a_fault_that_meets_nothing_does_not_count(stage: Stage) -> None:
    with patch.object(Stage, "turn", lambda self, fault, total: total() + 1), pytest.raises(MissedError):
        DISK_FAULTS["read-only at a file call"](stage)
