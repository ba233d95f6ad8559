"""All benchmarks, side by side in one run: `make bench`."""

from rich.console import Console

from tests.bench.bench_ablation import ablation_report
from tests.bench.bench_model import model_report
from tests.bench.bench_search import search_report
from tests.bench.bench_sweep import sweep_report


def main() -> None:
    """Print one table after another, as each is measured."""
    console = Console(width=170)
    for report in (model_report, sweep_report, lambda: search_report(quick=True), ablation_report):
        console.print(report())


if __name__ == "__main__":
    main()
