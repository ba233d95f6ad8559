"""All benchmarks, side by side in one run: `make bench`."""

from functools import partial

from rich.console import Console

from tests.bench.bench_ablation import ablation_report
from tests.bench.bench_model import model_report
from tests.bench.bench_search import search_report
from tests.bench.bench_sweep import sweep_report
from tests.bench.bench_weighing import weighing_report


def main() -> None:
    """Print one table after another, as each is measured."""
    console = Console(width=170)
    quick_search = partial(search_report, quick=True)
    for report in (model_report, sweep_report, quick_search, ablation_report, weighing_report):
        console.print(report())


if __name__ == "__main__":
    main()
