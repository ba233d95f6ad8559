"""Where the files of a run lie, and how a run is found by its name."""

from __future__ import annotations

import difflib
import os
import tomllib
from dataclasses import dataclass
from pathlib import Path

from boilerfront.shared.errors import InputError

RUNS_VARIABLE = "BOILERFRONT_RUNS"


@dataclass(frozen=True)
class RunFolder:
    """The folder of one run; its files may or may not be there yet."""

    path: Path

    @property
    def name(self) -> str:
        """Return the run's name, which is its folder's."""
        return self.path.resolve().name

    @property
    def sweep_file(self) -> Path:
        """Return the frozen copy of the sweep; a folder with it is a run."""
        return self.path / "sweep.toml"

    @property
    def sweep_hash(self) -> str | None:
        """Return the hash that the frozen sweep records, None where none can be read."""
        try:
            record = tomllib.loads(self.sweep_file.read_text(encoding="utf-8")).get("run", {})
        except (OSError, ValueError):
            return None
        found = record.get("sweep_hash") if isinstance(record, dict) else None
        return found if isinstance(found, str) else None

    @property
    def trials(self) -> Path:
        """Return the ledger's folder."""
        return self.path / "trials"

    @property
    def front(self) -> Path:
        """Return the file of the feasible non-dominated trials."""
        return self.path / "front.parquet"

    @property
    def convergence(self) -> Path:
        """Return the file of how the front grew."""
        return self.path / "convergence.parquet"

    @property
    def proof(self) -> Path:
        """Return the file of what was rated again of the front."""
        return self.path / "proof.parquet"

    @property
    def log(self) -> Path:
        """Return the log that tells the run's story."""
        return self.path / "run.log"

    @property
    def lock(self) -> Path:
        """Return the lock of the one driver."""
        return self.path / "run.lock"

    @property
    def picks(self) -> Path:
        """Return the file of kept candidates and notes."""
        return self.path / "picks.toml"

    @property
    def proposed(self) -> Path:
        """Return the file of the letters that were proposed last."""
        return self.path / "proposed.toml"

    @property
    def picks_lock(self) -> Path:
        """Return the lock of who changes the picks."""
        return self.path / "picks.lock"

    @property
    def state(self) -> Path:
        """Return the file that says how far the run is."""
        return self.path / "state.json"

    def exists(self) -> bool:
        """Return whether a run was started here; a path that no file can have holds none."""
        return os.path.isfile(self.sweep_file)  # unlike Path.is_file it never raises


def runs_root(given: Path | None = None) -> Path:
    """Return where runs lie: `given`, else what BOILERFRONT_RUNS says, else `runs`."""
    return given or Path(os.environ.get(RUNS_VARIABLE) or "runs")


def find_run(name_or_path: str | Path, root: Path | None = None) -> RunFolder:
    """Return the run of that folder, or of that name under `root` (default: `runs_root()`).

    Raises `InputError`, which names near ones, when there is none.
    """
    root = runs_root(root)
    for path in (Path(name_or_path), root / name_or_path):
        if RunFolder(path).exists():
            return RunFolder(path)
    raise InputError(_no_such_run(str(name_or_path), root))


def all_runs(root: Path | None = None) -> list[RunFolder]:
    """Return the runs under `root`, the one that wrote last first."""
    root = runs_root(root)
    folders = [RunFolder(path) for path in sorted(root.iterdir())] if root.is_dir() else []
    return sorted((run for run in folders if run.exists()), key=_last_write, reverse=True)


def _last_write(run: RunFolder) -> float:
    """Return when the run last wrote; files that end a generation count."""
    written = (run.state, run.convergence, run.sweep_file)
    return max((path.stat().st_mtime for path in written if path.exists()), default=0.0)


def _no_such_run(name: str, root: Path) -> str:
    known = [run.name for run in all_runs(root)]
    if not known:
        return f"there is no run '{name}': {root} holds no run"
    near = difflib.get_close_matches(name, known, n=3, cutoff=0.4)
    listed = f"did you mean {' or '.join(near)}?" if near else f"there are {', '.join(known[:10])}"
    return f"there is no run '{name}' in {root}; {listed}"
