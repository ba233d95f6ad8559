"""Five floors: imports go downwards only, packages are listed, and `status` starts nothing heavy."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
FLOORS = ("shared", "model", "search", "results", "jobs")
FILES = [path for floor in FLOORS for path in sorted((ROOT / floor).rglob("*.py"))]

ONLY_IN = {
    "dask": {"jobs/cluster.py"},
    "distributed": {"jobs/cluster.py", "jobs/equipment.py"},
    "optuna": {
        *("search/sampler.py", "search/distributions.py", "search/watch.py"),
        *("jobs/study.py", "jobs/export.py"),
    },
}
NEVER_IN = {
    "shared": {"optuna", "dask", "distributed", "pyarrow", "duckdb", "typer", "numba"},
    "model": {"optuna", "dask", "distributed", "pyarrow", "duckdb", "typer"},
    "search": {"dask", "distributed", "pyarrow", "duckdb", "typer"},
    "results": {"dask", "distributed", "optuna", "typer"},
}


def imported(path: Path) -> set[str]:
    """Return every module that a file imports, also inside functions and for types only."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: a relative import"
            module = node.module or ""
            names.add(module)
            if module == "boilerfront":
                names |= {f"boilerfront.{alias.name}" for alias in node.names}
    return names


def place(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


@pytest.mark.parametrize("path", FILES, ids=place)
def test_imports_go_downwards_only(path: Path) -> None:
    floor = FLOORS.index(path.relative_to(ROOT).parts[0])
    for name in imported(path):
        parts = name.split(".")
        if parts[0] == "boilerfront" and len(parts) > 1:
            assert FLOORS.index(parts[1]) <= floor, f"{place(path)} imports {name}"


@pytest.mark.parametrize("path", FILES, ids=place)
def test_each_heavy_package_has_its_own_files(path: Path) -> None:
    floor = path.relative_to(ROOT).parts[0]
    roots = {name.split(".")[0] for name in imported(path)}
    assert not roots & NEVER_IN.get(floor, set())
    for package, files in ONLY_IN.items():
        assert package not in roots or place(path) in files


def test_every_folder_with_code_is_a_listed_package() -> None:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    listed = set(settings["tool"]["setuptools"]["packages"])
    folders = {"boilerfront." + ".".join(path.parent.relative_to(ROOT).parts) for path in FILES}
    assert folders == listed


def test_every_floor_has_its_typing_link() -> None:
    for floor in FLOORS:
        assert (ROOT / ".typing" / "boilerfront" / floor).resolve() == ROOT / floor
        assert (ROOT / floor / "py.typed").is_file()


def test_status_starts_nothing_heavy(tmp_path: Path) -> None:
    script = (
        "import sys\n"
        f"sys.argv = ['boilerfront', 'status', '--runs', {str(tmp_path)!r}]\n"
        "from boilerfront.jobs.cli import app\n"
        "app(standalone_mode=False)\n"
        "heavy = {'optuna', 'dask', 'distributed', 'numba', 'pandas', 'duckdb', 'pyarrow', 'scipy'}\n"
        "print(sorted(heavy & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]", done.stdout


def test_all_compiled_functions_of_the_model_have_the_same_arithmetic() -> None:
    """Also in the source of the written-out step: a helper of numba gets the options of whoever asks first."""
    calls = {
        (place(path), call)
        for path in sorted((ROOT / "model").rglob("*.py"))
        for call in re.findall(r"@njit\b.*|\bnjit\(.*", path.read_text(encoding="utf-8"))
    }
    assert len(calls) >= 6
    assert [call for call in calls if "**ARITHMETIC" not in call[1]] == []
