"""`page` as a person types it."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from boilerfront.jobs import cli
from boilerfront.results.run_folder import RunFolder
from tests.results.page.page_runs import make_run, on_front


@pytest.fixture
def run(tmp_path: Path) -> RunFolder:
    """Return a run whose frozen sweep is not of this version: its table can be shown, no trace computed."""
    run = make_run(tmp_path / "runs" / "night", [on_front(trial) for trial in range(8)])
    run.lock.touch()
    return run


def typed(*words: object, monkeypatch: pytest.MonkeyPatch) -> int:
    """Return the exit code of a command."""
    monkeypatch.setattr(sys, "argv", ["boilerfront", *map(str, words)])
    with pytest.raises(SystemExit) as caught:
        cli.main()
    return int(caught.value.code or 0)


def test_a_page_of_a_run_of_another_version_says_that_it_has_no_traces(
    run: RunFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out = run.path / "page.html"
    assert typed("page", run.path, "--out", out, monkeypatch=monkeypatch) == 0
    printed = capsys.readouterr()
    assert printed.out.startswith(f"{out}: 8 of 8 designs of the front, 0 with traces, ")
    assert printed.err.startswith("Without traces: ")
    assert "Without traces: " in out.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["page.png", "page"])
def test_another_suffix_is_refused_before_anything_is_computed(
    run: RunFolder, name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed("page", run.path, "--out", run.path / name, monkeypatch=monkeypatch) == 2
    assert "a name that ends in .html" in capsys.readouterr().err
    assert not (run.path / name).exists()


def test_no_such_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("page", "nothing", "--runs", tmp_path, "--out", tmp_path / "page.html")
    assert typed(*words, monkeypatch=monkeypatch) == 2
    assert "there is no run 'nothing'" in capsys.readouterr().err
