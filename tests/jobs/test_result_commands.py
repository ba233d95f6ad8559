"""query, compare, reprice and export as a person types them."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from boilerfront.jobs.launch import Options, start
from boilerfront.jobs.work import Design, Row
from boilerfront.model.brief import Brief
from boilerfront.results.ledger import read_ledger
from boilerfront.results.run_folder import RunFolder
from tests.jobs.fakes import Bench
from tests.jobs.test_cli import typed
from tests.jobs.toy import PRICES, SWEEP, toy


def coil_or_not(designs: Sequence[Design], brief: Brief) -> list[Row]:
    """Return the toy's rows, also of a sweep that knows no coil."""
    return toy([{"coil_length_m": None, **design} for design in designs], brief)


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder of two finished runs of the toy, in which only the first has designs with a coil."""
    folder = tmp_path_factory.mktemp("commands")
    sweeps = {"toy": SWEEP, "plain": SWEEP.replace(', "dual_boiler_coil"', "").replace("coil_length_m", "# ")}
    for name, text in sweeps.items():
        path = folder / f"{name}.toml"
        path.write_text(text, encoding="utf-8")
        start(path, folder / "runs", name=None, options=Options(), means=Bench(evaluate=coil_or_not).means())
    return folder / "runs"


def test_the_ready_questions(
    root: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    def asked(*words: object) -> tuple[int, str, str]:
        code = typed("query", "toy", "--runs", root, *words, monkeypatch=monkeypatch)
        return code, *capfd.readouterr()

    code, out, err = asked("--cheapest", "--columns", "*")
    assert code == 0
    assert "1 of" in err
    code, out, err = asked("--spend", 110, "--limit", 3, "--format", "json")
    assert all(row["part_cost"] <= 110 for row in json.loads(out))
    assert "cost at most 110 EUR in parts" in err
    code, out, err = asked("--trade", "warm_up_s", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert [row["next_trial"] for row in rows[:-1]] == [row["trial"] for row in rows[1:]]
    assert "warm_up_s bought with part_cost alone" in err
    code, out, err = asked("--knee")
    assert "is the knee" in err
    assert "on 512 fresh machines: boilerfront pick" in err
    trial = json.loads(asked("--knee", "--format", "json")[1])[0]["trial"]
    code, out, err = asked("--near", trial, "--limit", 2)
    assert "the design asked about" in out
    assert asked("--near", "Q")[0] == 2
    assert asked("--knee", "--cheapest")[0] == 2
    code, out, err = asked("--trade", "mass_kg")
    assert (code, out) == (2, "")
    assert "an objective of this run" in err


def test_a_letter_is_as_good_as_a_number(
    root: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    picks = RunFolder(root / "toy").picks
    picks.write_text("[A]\ntrial = 5\n", encoding="utf-8")
    words = ("query", "toy", "--runs", root, "--limit", 1, "--format", "json", "--near")
    assert typed(*words, "A", monkeypatch=monkeypatch) == 0
    assert json.loads(capfd.readouterr().out)[0]["trial"] == 5
    picks.unlink()


def test_compare_says_what_only_one_has_and_writes_picture_and_table(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("compare", "toy", "plain", "--runs", root)
    for name in ("c.png", "c.svg", "c.csv", "c.parquet"):
        assert typed(*words, "--out", tmp_path / name, monkeypatch=monkeypatch) == 0
        assert (tmp_path / name).stat().st_size > 0
    said = " ".join(capsys.readouterr().out.split())
    assert "dual_boiler_coil is on the front of toy alone" in said
    assert "plain was asked otherwise than toy: variables.architecture" in said
    table = pq.read_table(tmp_path / "c.parquet")
    assert set(table["run"].to_pylist()) == {"toy", "plain"}


def test_what_cannot_be_compared_is_refused(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for words, why in (
        (("toy",), "two runs or more"),
        (("toy", root / "toy"), "each run once"),
        (("toy", "plian"), "did you mean"),
        (("toy", "plain", "--out", tmp_path / "c.xlsx"), "ends in one of"),
    ):
        assert typed("compare", *words, "--runs", root, monkeypatch=monkeypatch) == 2
        assert why in capsys.readouterr().err
    out = tmp_path / "no such folder" / "c.png"
    assert typed("compare", "toy", "plain", "--runs", root, "--out", out, monkeypatch=monkeypatch) == 2
    assert "--out" in capsys.readouterr().err


def test_runs_of_one_name_are_told_apart_by_their_paths(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "toy.toml"
    path.write_text(SWEEP.replace("budget = 60", "budget = 10"), encoding="utf-8")
    other = start(path, tmp_path / "runs", name=None, options=Options(), means=Bench().means()).run
    assert typed("compare", root / "toy", other.path, monkeypatch=monkeypatch) == 0
    assert str(other.path) in capsys.readouterr().out


def test_reprice_says_what_changed_and_what_can_be_done_next(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "new.csv"
    book.write_text(
        PRICES.read_text(encoding="utf-8").replace("pump,piece,9.5", "pump,piece,19.5"), encoding="utf-8"
    )
    words = ("reprice", "toy", book, "--runs", root, "--name", "dear")
    assert typed(*words, monkeypatch=monkeypatch) == 0
    said = capsys.readouterr().out
    assert "pump" in said
    assert f"boilerfront resume {root.resolve() / 'dear'} --budget 120" in said
    assert "good at the old prices" in said
    assert typed(*words, monkeypatch=monkeypatch) == 2
    assert "a name that is not taken" in capsys.readouterr().err
    costs = [read_ledger(root / name / "trials").table["part_cost"].to_pylist() for name in ("toy", "dear")]
    known = [(old, new) for old, new in zip(*costs, strict=True) if old is not None]
    assert [new - old for old, new in known] == pytest.approx([10.0] * len(known))
    # Two runs of one search at other prices can be compared, and it is said in what they differ.
    assert typed("compare", "toy", "dear", "--runs", root, monkeypatch=monkeypatch) == 0
    assert "dear was asked otherwise than toy: 1 price" in capsys.readouterr().out


def test_export_says_how_to_open_what_it_wrote(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("export", "toy", "--runs", root, "--to")
    assert typed(*words, "optuna", "--out", tmp_path / "toy.db", monkeypatch=monkeypatch) == 0
    said = capsys.readouterr().out
    assert "60 trials" in said
    assert 'optuna.load_study(study_name="toy"' in said
    assert typed(*words, "csv", "--out", tmp_path / "toy.csv", monkeypatch=monkeypatch) == 0
    assert typed(*words, "excel", "--out", tmp_path / "toy.xlsx", monkeypatch=monkeypatch) == 2
    assert "optuna or csv" in capsys.readouterr().err


def test_a_reader_that_has_had_enough_is_no_fault(root: Path) -> None:
    """In a process of its own, whose output is closed before it begins."""
    words = ("query", root / "toy", "--all", "--columns", "*", "--format", "csv")
    command = [sys.executable, "-m", "boilerfront.jobs.cli", *map(str, words)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        said = process.stderr.read()
    assert (process.returncode, said) == (0, b"")
