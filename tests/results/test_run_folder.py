"""Runs are found by folder or name, and a light command stays light."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from boilerfront.results.front import Progress, Record, front_table, objective_values, write_front
from boilerfront.results.ledger import Ledger
from boilerfront.results.run_folder import RunFolder, all_runs, find_run, runs_root
from boilerfront.shared.errors import InputError
from tests.results.rows import SCHEMA, rows


def _run(root: Path, name: str) -> RunFolder:
    run = RunFolder(root / name)
    run.path.mkdir(parents=True)
    run.sweep_file.write_text("")
    return run


def test_files_of_a_run(tmp_path: Path) -> None:
    run = _run(tmp_path, "demo")
    assert run.name == "demo"
    assert run.exists()
    assert run.trials == tmp_path / "demo" / "trials"
    names = {run.sweep_file.name, run.front.name, run.convergence.name, run.log.name, run.picks.name}
    assert names == {"sweep.toml", "front.parquet", "convergence.parquet", "run.log", "picks.toml"}


def test_found_by_name_or_folder(tmp_path: Path) -> None:
    run = _run(tmp_path, "demo")
    assert find_run("demo", tmp_path) == run
    assert find_run(run.path, tmp_path / "elsewhere") == run


def test_near_names_are_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no run"):
        find_run("demo", tmp_path / "nowhere")
    for name in ("demo", "compact-230V", "compact-120V"):
        _run(tmp_path, name)
    (tmp_path / "not a run").mkdir()
    with pytest.raises(InputError, match="did you mean demo"):
        find_run("demmo", tmp_path)
    with pytest.raises(InputError, match="there are compact"):
        find_run("xyz", tmp_path)


def test_the_one_that_wrote_last_comes_first(tmp_path: Path) -> None:
    for age, name in enumerate(("new", "older", "oldest")):
        os.utime(_run(tmp_path, name).sweep_file, (10_000 - age, 10_000 - age))
    assert [run.name for run in all_runs(tmp_path)] == ["new", "older", "oldest"]
    state = RunFolder(tmp_path / "oldest").state
    state.write_text("{}")
    os.utime(state, (20_000, 20_000))
    assert all_runs(tmp_path)[0].name == "oldest"


def test_where_runs_lie(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("BOILERFRONT_RUNS", raising=False)
    assert runs_root() == Path("runs")
    monkeypatch.setenv("BOILERFRONT_RUNS", "/data/runs")
    assert runs_root() == Path("/data/runs")
    assert runs_root(Path("here")) == Path("here")


def test_a_look_at_a_run_imports_nothing_heavy(tmp_path: Path) -> None:
    ledger = Ledger(tmp_path / "trials", SCHEMA)
    ledger.write_task(0, 0, rows(range(20)))
    front = front_table(ledger.close_generation(0))
    write_front(tmp_path / "front.parquet", front)
    record = Record(tmp_path / "convergence.parquet")
    record.note(Progress(0, 20, 17, 1.0), objective_values(front))
    record.write()
    heavy = ("pandas", "duckdb", "numba", "optuna", "dask", "distributed", "matplotlib", "scipy")
    code = (
        "import sys\n"
        "from boilerfront.results import run_folder, front, ledger, schema, opened\n"
        "from boilerfront.shared import files, lock\n"
        "from pathlib import Path\n"
        "run = run_folder.RunFolder(Path(sys.argv[1]))\n"
        "assert front.read_convergence(run.convergence).num_rows == 1\n"
        "assert front.read_front(run.front).num_rows\n"
        "assert ledger.read_ledger(run.trials).table.num_rows == 20\n"
        "assert lock.holder_of(run.lock) is None\n"
        f"print([name for name in {heavy!r} if name in sys.modules])\n"
    )
    command = [sys.executable, "-c", code, str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("name", ["a" * 5000, "a/" * 3000, "a\0b"])
def test_a_name_that_no_file_can_have_is_no_run(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError, match="there is no run"):
        find_run(name, tmp_path)
