"""Our search against optuna's and pymoo's at 500 to 10,000 evaluations on problems that it was not tuned on.

    make bench-full
    python -m tests.bench.bench_search_full --report    # of what is kept so far

Each search of a problem with a seed is kept under runs/bench-search, so that the run can be stopped and goes
on where it was. Cells come most telling first: all searches to 2,000 before any to 10,000; problems with many
local fronts take fifteen seeds, the others five. Our own model is one of the problems. A share is that of
the hypervolume of everything that all kept searches of a problem found together, scaled to the range of
their common front with 1.1 as reference; so it changes a little as cells are added.
"""

from __future__ import annotations

import io
import sys
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import matplotlib as mpl
import moocore
import numpy as np
import optuna
import pyarrow as pa
import pyarrow.parquet as pq
from matplotlib.figure import Figure
from rich.console import Console
from rich.table import Table

from boilerfront import search as search_floor
from boilerfront.shared.files import make_folder, short_digest, write_atomically
from tests.bench.bench_search import Told, searches
from tests.bench.search_problems import MULTIMODAL, Floats, Problem, untouched
from tests.bench.thermal_problem import thermal

FOLDER = Path("runs/bench-search")
BUDGETS = (500, 1000, 2000, 2500, 10_000)
SEEDS = 5
FIRST_SEEDS = 3
SEEDS_MULTIMODAL = 15
TPE = "optuna TPE"
"""Its time grows with the square of the trials: to 1,000 only."""


@dataclass(frozen=True)
class Cell:
    """One search of one problem from one seed to `budget` evaluations."""

    problem: str
    search: str
    seed: int
    budget: int

    @property
    def path(self) -> Path:
        """Return where it is kept."""
        label = self.search.replace(" ", "-").replace(",", "")
        label += f"-{_our_digest()}" if self.search.startswith("FrontSampler") else ""
        return FOLDER / f"{self.problem}.{label}.{self.seed}.{self.budget}.npz"


@cache
def _our_digest() -> str:
    """Return a digest of our search's code: what an older form of it found is not mixed in."""
    files = sorted(Path(str(search_floor.__file__)).parent.glob("*.py"))
    return short_digest(b"".join(file.read_bytes() for file in files))


@cache
def judged() -> dict[str, Problem]:
    """Return the problems: public ones that nothing was tuned on, and our own model."""
    return {**untouched(), "thermal": thermal()}


def cells() -> Iterator[Cell]:
    """Yield all cells, the most telling first."""
    names = list(searches(budget=min(BUDGETS)))
    further = range(SEEDS, SEEDS_MULTIMODAL)
    for seeds, listed, budget in (
        (range(FIRST_SEEDS), judged(), 2000),
        (range(FIRST_SEEDS, SEEDS), judged(), 2000),
        (further, MULTIMODAL, 2000),
        (range(SEEDS), judged(), 10_000),
        (further, MULTIMODAL, 10_000),
    ):
        for seed in seeds:
            for problem in listed:
                for search in names:
                    if search != TPE:
                        yield Cell(problem, search, seed, budget)
                    elif budget == 2000:
                        yield Cell(problem, search, seed, 1000)


def run(cell: Cell) -> None:
    """Search and keep the feasible front after each budget."""
    problem = judged()[cell.problem]
    search = searches(budget=min(BUDGETS))[cell.search]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", optuna.exceptions.ExperimentalWarning)
        told = search(problem, cell.budget, cell.seed)
    fronts = {str(budget): _front(told, budget) for budget in BUDGETS if budget <= cell.budget}
    data = io.BytesIO()
    np.savez(data, allow_pickle=False, own_ms=np.array(told.own_ms), **fronts)
    write_atomically(cell.path, data.getvalue())


def _front(told: Told, budget: int) -> Floats:
    feasible = (told.constraints[:budget] <= 0.0).all(axis=1)
    points = told.objectives[:budget][feasible]
    return points[moocore.is_nondominated(points)] if len(points) else points


def rows() -> list[dict[str, object]]:
    """Return the share of each kept search at each of its budgets; a longer cell replaces a shorter one."""
    kept: dict[tuple[str, str, int], dict[str, Floats]] = {}
    for cell in sorted(cells(), key=lambda cell: cell.budget):
        if cell.path.exists():
            with np.load(cell.path, allow_pickle=False) as arrays:
                kept[cell.problem, cell.search, cell.seed] = dict(arrays)
    found: list[dict[str, object]] = []
    for problem in judged():
        mine = {key: arrays for key, arrays in kept.items() if key[0] == problem}
        fronts = [a[k] for a in mine.values() for k in a if k != "own_ms" and len(a[k])]
        if not fronts:
            continue
        union = np.vstack(fronts)
        union = union[moocore.is_nondominated(union)]
        low = union.min(axis=0)
        span = np.where((width := np.ptp(union, axis=0)) > 0.0, width, 1.0)
        best = _volume((union - low) / span)
        for (_, search, seed), arrays in mine.items():
            for budget in BUDGETS:
                if str(budget) in arrays:
                    share = _volume((arrays[str(budget)] - low) / span) / best
                    found.append(
                        {"problem": problem, "search": search, "seed": seed, "budget": budget}
                        | {"share": share, "own_ms": float(arrays["own_ms"])}
                    )
    return found


def _volume(points: Floats) -> float:
    inside = points[(points < 1.1).all(axis=1)]
    reference = np.full(points.shape[1], 1.1)
    return float(moocore.hypervolume(inside, ref=reference)) if len(inside) else 0.0


def full_report(found: list[dict[str, object]]) -> Table:
    """Return median and worst seed of each search, problem and budget, with the number of seeds."""
    table = Table(
        title="Search, untouched problems: share of the best known hypervolume, median (worst; seeds)"
    )
    for head in ("problem", "search", *(f"{budget:,}" for budget in BUDGETS)):
        table.add_column(head)
    for problem, search in dict.fromkeys((str(row["problem"]), str(row["search"])) for row in found):
        shown = []
        for budget in BUDGETS:
            shares = _shares(found, problem=problem, search=search, budget=budget)
            text = f"{np.median(shares):.3f} ({min(shares):.3f}; {len(shares)})" if shares else ""
            shown.append(text)
        table.add_row(problem, search, *shown)
    return table


def _shares(found: list[dict[str, object]], *, problem: str, search: str, budget: int) -> list[float]:
    wanted = {"problem": problem, "search": search, "budget": budget}
    return [float(str(row["share"])) for row in found if wanted.items() <= row.items()]


def save(found: list[dict[str, object]]) -> None:
    """Write the shares as Parquet and their medians' mean over the problems as a picture."""
    pq.write_table(pa.Table.from_pylist(found), FOLDER / "shares.parquet")
    mpl.use("Agg")
    figure = Figure(figsize=(8, 5), layout="constrained")
    axes = figure.subplots()
    for search in dict.fromkeys(str(row["search"]) for row in found):
        means = []
        for budget in BUDGETS:
            each = [_shares(found, problem=p, search=search, budget=budget) for p in judged()]
            # A mean over fewer problems could not be compared with the others.
            means.append(float(np.mean([np.median(e) for e in each])) if all(each) else np.nan)
        axes.plot(BUDGETS, means, marker="o", label=search)
    axes.set(
        xscale="log", xlabel="evaluations", ylabel="share of the best known hypervolume, mean of medians"
    )
    axes.legend()
    figure.savefig(FOLDER / "shares.png")


def main() -> None:
    """Run what is missing, one cell after another, then report on all that is kept; `--report`: only that."""
    make_folder(FOLDER)
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    console = Console(width=150)
    for cell in cells():
        if not cell.path.exists() and "--report" not in sys.argv:
            run(cell)
            console.print(f"{cell.problem} {cell.search} seed {cell.seed} to {cell.budget:,}")
    found = rows()
    save(found)
    console.print(full_report(found))


if __name__ == "__main__":
    main()
