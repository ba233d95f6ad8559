"""`pick` as a person types it: proposals, letters, kept designs, exit codes."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from boilerfront import model
from boilerfront.jobs.launch import Options, start
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files
from tests.faulty_disk import RefusingDisk
from tests.jobs.fakes import Bench
from tests.jobs.test_cli import typed
from tests.jobs.toy import SWEEP


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> RunFolder:
    """Return a finished run of the toy."""
    folder = tmp_path_factory.mktemp("toy")
    path = folder / "toy.toml"
    path.write_text(SWEEP, encoding="utf-8")
    return start(path, folder, name="toy", options=Options(), means=Bench().means()).run


@pytest.fixture
def run(finished: RunFolder, tmp_path: Path) -> RunFolder:
    """Return a copy of it in a folder with a space and an accent."""
    return RunFolder(Path(shutil.copytree(finished.path, tmp_path / "the run é")))


def listed(run: RunFolder, *words: object, capsys: Any, monkeypatch: Any) -> list[dict[str, Any]]:
    capsys.readouterr()
    assert typed("pick", run.path, *words, "--json", monkeypatch=monkeypatch) == 0
    found: list[dict[str, Any]] = json.loads(capsys.readouterr().out)
    return found


def test_proposals_have_letters_reasons_and_what_to_type_next(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed("pick", run.path, "--count", 3, monkeypatch=monkeypatch) == 0
    out = capsys.readouterr().out
    assert "\nA  " in out
    assert f"next: boilerfront trace '{run.path}' A B" in out
    first, *others = listed(run, "--count", 3, capsys=capsys, monkeypatch=monkeypatch)
    assert first["pick"] == "A"
    assert first["why"]
    assert {each["architecture"] for each in (first, *others)} == {"dual_boiler", "dual_boiler_coil"}


def test_kept_by_letter_it_survives_other_proposals(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    proposals = listed(run, capsys=capsys, monkeypatch=monkeypatch)
    trial = proposals[1]["trial"]
    assert typed("pick", run.path, "--keep", "b", "--note", "for Eva", monkeypatch=monkeypatch) == 0
    assert f"B is trial {trial}" in capsys.readouterr().out
    again = listed(run, "--count", 1, capsys=capsys, monkeypatch=monkeypatch)
    assert again[0]["pick"] != "B" or again[0]["trial"] == trial
    (kept,) = listed(run, "--kept", capsys=capsys, monkeypatch=monkeypatch)
    assert (kept["pick"], kept["trial"], kept["note"]) == ("B", trial, "for Eva")
    assert typed("pick", run.path, "--kept", monkeypatch=monkeypatch) == 0
    assert "for Eva" in capsys.readouterr().out
    assert typed("pick", run.path, "--drop", "B", monkeypatch=monkeypatch) == 0
    assert listed(run, "--kept", capsys=capsys, monkeypatch=monkeypatch) == []


def test_a_kept_trial_that_the_run_has_not_is_shown_and_named(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    run.picks.write_text("[A]\ntrial = 1\n[B]\ntrial = 4000\n", encoding="utf-8")
    assert typed("pick", run.path, "--kept", monkeypatch=monkeypatch) == 0
    said = capsys.readouterr()
    assert "4000" in said.out
    assert "B: the run has no trial 4000" in said.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--keep", "Q"], "no letter is given yet"),
        (["--keep", "999999"], "a trial of the run"),
        (["--keep", "9" * 30], "a trial of the run"),
        (["--keep", "-1"], "TRIAL: found '-1'"),
        (["--keep", "3", "--count", "2"], "--count: found beside --keep"),
        (["--kept", "--note", "x"], "--note: found beside --kept"),
        (["--as", "A"], "--as: found without --keep"),
        (["--drop", "A"], "--drop: found 'A'"),
        (["--where", "no_such < 1"], "no column 'no_such'"),
    ],
)
def test_wrong_input_is_exit_2_and_changes_nothing(
    run: RunFolder,
    words: list[str],
    said: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert typed("pick", run.path, *words, monkeypatch=monkeypatch) == 2
    assert said in capsys.readouterr().err
    assert not run.picks.exists()


def test_nothing_meets_the_condition(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert listed(run, "--where", "part_cost < 1", capsys=capsys, monkeypatch=monkeypatch) == []
    assert typed("pick", run.path, "--where", "part_cost < 1", monkeypatch=monkeypatch) == 0
    assert "near: trial" in capsys.readouterr().err


def test_a_folder_that_cannot_be_written_still_gives_proposals(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(files, "DISK", RefusingDisk(at=1))
    assert typed("pick", run.path, monkeypatch=monkeypatch) == 0
    said = capsys.readouterr()
    assert "\nA  " in said.out
    assert "good for this list only" in said.err
    assert typed("pick", run.path, "--keep", "3", monkeypatch=monkeypatch) == 3


def _rated_at(deviation_K: float, monkeypatch: pytest.MonkeyPatch) -> None:
    fresh = {"shot_deviation_K": deviation_K, "feasible": True}
    monkeypatch.setattr(model, "evaluate_many", lambda designs, brief: [fresh for _ in designs])


def test_both_numbers_are_shown(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _rated_at(0.777, monkeypatch)
    assert typed("pick", run.path, "--confirm", "--count", 2, monkeypatch=monkeypatch) == 0
    said = capsys.readouterr()
    assert "on 512 fresh machines" in said.out
    assert "0.78" in said.out
    assert "fresh machines, 1 of 2" in said.err
    record, _ = listed(run, "--confirm", "--count", 2, capsys=capsys, monkeypatch=monkeypatch)
    assert record["confirmed"]["holds"] is True
    assert record["confirmed"]["shot_deviation_K"] == 0.777


def test_kept_ones_too_are_rated_on_fresh_machines(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _rated_at(0.34, monkeypatch)
    assert typed("pick", run.path, "--keep", "3", monkeypatch=monkeypatch) == 0
    (kept,) = listed(run, "--kept", "--confirm", capsys=capsys, monkeypatch=monkeypatch)
    assert kept["confirmed"]["shot_deviation_K"] == 0.34
    assert kept["shot_deviation_K"] != 0.34
    assert typed("pick", run.path, "--kept", "--confirm", monkeypatch=monkeypatch) == 0
    assert "fresh machines each" in capsys.readouterr().out
