"""`pack` as a person types it: what it refuses before anything is computed, and what it leaves."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from boilerfront.jobs.launch import Options, start
from boilerfront.results.pack import subject, write
from boilerfront.results.picks import keep
from boilerfront.results.run_folder import RunFolder
from tests.jobs.fakes import Bench
from tests.jobs.test_cli import typed
from tests.jobs.toy import SWEEP

NOW = datetime(2026, 1, 31, tzinfo=UTC)


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> RunFolder:
    """Return a finished run of the toy."""
    folder = tmp_path_factory.mktemp("toy")
    path = folder / "toy.toml"
    path.write_text(SWEEP, encoding="utf-8")
    return start(path, folder, name="toy", options=Options(), means=Bench().means()).run


@pytest.fixture
def run(finished: RunFolder, tmp_path: Path) -> RunFolder:
    """Return a copy of it in which trial 3 is kept as A."""
    copy = RunFolder(Path(shutil.copytree(finished.path, tmp_path / "toy é")))
    keep(copy, 3, letter="A", now=NOW)
    return copy


def test_a_folder_for_each_candidate(
    run: RunFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(subject, "gather", lambda name, candidate, brief, **more: candidate)
    monkeypatch.setattr(write, "write_pack", lambda folder, candidate: folder.mkdir(parents=True))
    words = ("pack", run.path, "a", "7", "A", "--out", tmp_path / "out")
    assert typed(*words, monkeypatch=monkeypatch) == 0
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["A-trial-3", "trial-7"]
    out = capsys.readouterr().out
    assert out.splitlines()[:2] == [str(tmp_path / "out" / "A-trial-3"), str(tmp_path / "out" / "trial-7")]
    assert "Safety valve" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["B"], "TRIAL: found 'B'"),
        (["7", "90000"], "a trial of the run"),
        (["A", "--site", "us"], "--site: found 'us'; allowed: none: this sweep has one site"),
        (["7"], "trial-7; allowed: a place where nothing is yet"),
    ],
)
def test_wrong_input_is_exit_2_before_anything_is_computed(
    run: RunFolder, words: list[str], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    def never(*given: object, **more: object) -> None:
        raise AssertionError("computed")

    (tmp_path / "out" / "trial-7").mkdir(parents=True)
    monkeypatch.setattr(subject, "gather", never)
    assert typed("pack", run.path, *words, "--out", tmp_path / "out", monkeypatch=monkeypatch) == 2
    assert said in capsys.readouterr().err
