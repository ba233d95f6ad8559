"""The command line as a person types it: what it prints where, and its exit codes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from boilerfront.jobs import cli, launch
from boilerfront.jobs.driver import Outcome
from boilerfront.jobs.estimate import Probe
from boilerfront.jobs.launch import Ended, Options, start
from boilerfront.jobs.state import State, write_state
from boilerfront.results.run_folder import RunFolder
from tests.jobs.fakes import Bench
from tests.jobs.test_sweep import TEN_FAULTS
from tests.jobs.toy import SWEEP


@pytest.fixture
def run(tmp_path: Path) -> RunFolder:
    """Return a finished run of the toy, named toy, under runs."""
    path = tmp_path / "toy.toml"
    path.write_text(SWEEP.replace("budget = 60", "budget = 40"), encoding="utf-8")
    return start(path, tmp_path / "runs", name=None, options=Options(), means=Bench().means()).run


def typed(*words: object, monkeypatch: pytest.MonkeyPatch) -> int:
    """Return the exit code of a command."""
    monkeypatch.setattr(sys, "argv", ["boilerfront", *map(str, words)])
    with pytest.raises(SystemExit) as caught:
        cli.main()
    code = caught.value.code
    return code if isinstance(code, int) else int(code is not None)


def test_ten_faults_are_ten_messages_exit_2_and_no_folder(tmp_path: Path) -> None:
    """In a process of its own: nothing of ours may be printed on standard output."""
    sweep = tmp_path / "family.toml"
    sweep.write_text(TEN_FAULTS, encoding="utf-8")
    command = [sys.executable, "-m", "boilerfront.jobs.cli", "start", str(sweep)]
    environment = os.environ | {"BOILERFRONT_RUNS": str(tmp_path / "runs")}
    done = subprocess.run(command, capture_output=True, text=True, env=environment, check=False)
    assert done.returncode == 2
    assert done.stdout == ""
    lines = done.stderr.splitlines()
    assert lines[0].startswith("10 faults")
    assert len(lines) == 11
    assert not (tmp_path / "runs").exists()


def test_every_command_is_registered_once() -> None:
    folder = Path(cli.__file__).parent / "commands"
    files = {path.stem for path in folder.glob("*.py")} - {"__init__", "options"}
    assert sorted(files) == sorted(
        str(each.callback.__name__) for each in cli.app.registered_commands if each.callback
    )


def test_draft_lists_writes_and_never_overwrites(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "mine"
    assert typed("draft", folder, monkeypatch=monkeypatch) == 0
    assert "compact-230v" in capsys.readouterr().out
    assert not folder.exists()
    assert typed("draft", folder, "--starter", "family-120v", monkeypatch=monkeypatch) == 0
    assert sorted(path.name for path in folder.iterdir()) == ["prices.csv", "sweep.toml"]
    assert typed("draft", folder, "--starter", "family-120v", monkeypatch=monkeypatch) == 2
    assert typed("draft", tmp_path / "x", "--starter", "familly-120v", monkeypatch=monkeypatch) == 2
    assert "did you mean 'family-120v'" in capsys.readouterr().err


def test_inspect_says_what_a_sweep_takes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "mine"
    typed("draft", folder, "--starter", "compact-230v", monkeypatch=monkeypatch)
    assert typed("inspect", folder, "--without-timing", monkeypatch=monkeypatch) == 0
    out = capsys.readouterr().out
    assert "20,000" in out
    assert "no warm-up below" in out
    assert "plans 100% of the generations" in out


def test_inspect_proposes_a_share_of_surrogates_where_evaluations_are_dearer_than_usual(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "mine"
    typed("draft", folder, "--starter", "compact-230v", monkeypatch=monkeypatch)
    text = (folder / "sweep.toml").read_text(encoding="utf-8")
    (folder / "sweep.toml").write_text(
        text.replace("# surrogate = 1.0 ", "surrogate = 0.05"), encoding="utf-8"
    )
    slow = Probe(designs=16, seconds=16.0, came_through=16, feasible=3, bytes_a_part=1000)
    monkeypatch.setattr("boilerfront.jobs.estimate.probe", lambda sweep: slow)
    assert typed("inspect", folder, monkeypatch=monkeypatch) == 0
    assert "set surrogate = 1 in [search]" in " ".join(capsys.readouterr().out.split())


def test_status_in_words_and_as_json(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    root = run.path.parent
    assert typed("status", "--runs", root, monkeypatch=monkeypatch) == 0
    assert "toy: finished; 40 of 40 designs" in capsys.readouterr().out
    assert typed("status", "--runs", root, "--json", monkeypatch=monkeypatch) == 0
    (record,) = json.loads(capsys.readouterr().out)
    assert (record["run"], record["phase"], record["trials"]) == ("toy", "finished", 40)
    assert typed("status", "toy", "--runs", root, "--json", monkeypatch=monkeypatch) == 0
    assert json.loads(capsys.readouterr().out) == record
    assert typed("status", "tay", "--runs", root, monkeypatch=monkeypatch) == 2
    assert "toy" in capsys.readouterr().err


def test_status_says_a_thing_once(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    state = State(
        phase="stopped", trials=7, budget=40, until="07:00 CET", why="stopped at 07:00 CET as asked"
    )
    write_state(run, state)
    assert typed("status", run.path, monkeypatch=monkeypatch) == 0
    assert capsys.readouterr().out.count("07:00") == 1
    write_state(run, replace(state, phase="running"))  # and nobody holds its lock
    assert typed("status", run.path, monkeypatch=monkeypatch) == 0
    assert capsys.readouterr().out.count("without a word") == 1


def test_query_gives_nothing_but_json_on_standard_output(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    words = ("query", run.path, "--format", "json", "--where", "part_cost > 0", "--limit", 2)
    assert typed(*words, monkeypatch=monkeypatch) == 0
    assert len(json.loads(capfdbinary.readouterr().out)) == 2
    assert typed("query", run.path, "--where", "no_such > 0", monkeypatch=monkeypatch) == 2


def test_start_again_shows_the_finished_run_and_resume_says_so(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    sweep = run.path.parent.parent / "toy.toml"
    assert typed("start", sweep, "--runs", run.path.parent, monkeypatch=monkeypatch) == 0
    assert "is finished: 40 designs" in capsys.readouterr().err
    assert typed("resume", "toy", "--runs", run.path.parent, monkeypatch=monkeypatch) == 0
    assert typed("start", sweep, "--runs", run.path.parent, "--seed", 9, monkeypatch=monkeypatch) == 2
    assert "--name toy-2" in capsys.readouterr().err
    assert typed("start", sweep, "--runs", run.path.parent, "--at", "25:00", monkeypatch=monkeypatch) == 2


def test_what_is_refused_is_refused_before_going_on_alone(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    sweep, root = run.path.parent.parent / "toy.toml", run.path.parent
    alone: list[object] = []
    monkeypatch.setattr(subprocess, "Popen", lambda *words, **options: alone.append(words))
    for words in (
        ("--seed", 9),
        ("--budget", 50),
        ("--name", "a/b"),
        ("--until", "25:00"),
        ("--budget", 10**8),
    ):
        assert typed("start", sweep, "--runs", root, "--detach", *words, monkeypatch=monkeypatch) == 2
    (root / "detached.log").mkdir()
    assert typed("start", sweep, "--runs", root, "--name", "new", "--detach", monkeypatch=monkeypatch) == 3
    assert "cannot write" in capsys.readouterr().err
    assert not alone


def test_no_sweep_is_started_after_one_that_was_stopped_in_time(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = run.path.parent.parent
    started: list[tuple[str, Options]] = []

    def start_one(sweep: Path, root: Path, *, options: Options, **given: object) -> Ended:
        started.append((sweep.stem, options))
        return Ended(RunFolder(root / sweep.stem), "finished" if sweep.stem == "one" else "until")

    monkeypatch.setattr(launch, "start", start_one)
    for name in ("one", "two", "three"):
        (folder / f"{name}.toml").write_text(SWEEP, encoding="utf-8")
    sweeps = [folder / f"{name}.toml" for name in ("one", "two", "three")]
    words = ("start", *sweeps, "--runs", folder / "runs", "--until", "07:00")
    assert typed(*words, monkeypatch=monkeypatch) == 0
    (one, first), (two, second) = started
    assert (one, two) == ("one", "two")
    assert first == second
    assert isinstance(first.until, float)  # fixed once for all of them
    assert "not started: " in capsys.readouterr().err


def test_a_drafted_folder_is_no_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed("draft", tmp_path / "mine", "--starter", "compact-230v", monkeypatch=monkeypatch)
    assert typed("status", tmp_path / "mine", monkeypatch=monkeypatch) == 2
    assert "boilerfront start" in capsys.readouterr().err


def test_stop_needs_a_running_run(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed("stop", run.path, monkeypatch=monkeypatch) == 2
    assert "is not running" in capsys.readouterr().err


def test_our_own_fault_is_exit_1_and_says_where(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken() -> None:
        raise ZeroDivisionError("oops")

    monkeypatch.setattr(cli, "app", broken)
    assert typed("status", monkeypatch=monkeypatch) == 1
    said = capsys.readouterr().err
    assert "our own fault: ZeroDivisionError: oops" in said
    assert "test_cli.py:" in said
    assert "--debug" in said


def test_output_that_a_disk_refuses_is_exit_3_and_one_line(run: RunFolder) -> None:
    for words in (("query", run.path), ("query", run.path, "--format", "json"), ("status", run.path)):
        with Path("/dev/full").open("wb") as full:
            command = [sys.executable, "-m", "boilerfront.jobs.cli", *map(str, words)]
            done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
        assert done.returncode == 3
        assert done.stderr.splitlines()[-1] == "cannot write to standard output: No space left on device"
        assert "our own fault" not in done.stderr
        assert "Exception ignored" not in done.stderr


def test_a_pipe_is_no_sweep_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    for path in (tmp_path / "pipe.toml", Path("/dev/zero")):
        assert typed("inspect", path, monkeypatch=monkeypatch) == 2
        assert "a pipe or a device" in capsys.readouterr().err


@pytest.mark.parametrize(("outcome", "is_run"), [("finished", True), ("until", True), ("stopped", False)])
def test_then_is_not_run_after_a_stop(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, outcome: Outcome, is_run: bool
) -> None:
    sweep = tmp_path / "toy.toml"
    sweep.write_text(SWEEP, encoding="utf-8")
    ended = Ended(RunFolder(tmp_path / "runs" / "toy"), outcome)
    monkeypatch.setattr(launch, "start", lambda *words, **more: ended)
    words = ("start", sweep, "--runs", tmp_path / "runs", "--then", f"touch '{tmp_path / 'told'}'")
    assert typed(*words, monkeypatch=monkeypatch) == 0
    assert (tmp_path / "told").exists() == is_run
