"""External checks, convergence, the stiff solver and balances as one table: `make validate`."""

from __future__ import annotations

import argparse
import os
import sys
import time

from rich.console import Console

from tests.validate.proofs import Size, checks_and_exceptions
from tests.validate.report import WIDTH, print_report
from tests.validate.store import Store


def read_options(arguments: list[str] | None = None) -> argparse.Namespace:
    """Return the options of the command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.validate", description=__doc__)
    parser.add_argument(
        "--designs",
        type=_count,
        default=8,
        help="random designs of each architecture in the stiff solver, and five times as many whose water is "
        "added up (8; the full proof has 200)",
    )
    parser.add_argument(
        "--rated",
        type=_count,
        default=1000,
        help="designs of each architecture rated for their balance (1000)",
    )
    parser.add_argument("--workers", type=_count, default=os.cpu_count() or 1, help="processes (all cores)")
    parser.add_argument("--brief", action="store_true", help="print the summary and what fails alone")
    return parser.parse_args(arguments)


def _count(text: str) -> int:
    """Return a number of at least 1."""
    value = int(text)
    if value < 1:
        raise argparse.ArgumentTypeError(f"{value}: at least 1")
    return value


def main(arguments: list[str] | None = None) -> int:
    """Print the table; return 1 where a check fails."""
    options = read_options(arguments)
    began = time.monotonic()
    size = Size(compared=options.designs, rated=options.rated)
    checks, exceptions = checks_and_exceptions(size, options.workers, Store())
    console = Console()
    console = console if console.is_terminal else Console(width=WIDTH)
    print_report(console, checks, brief=options.brief)
    for line in exceptions:
        console.print(f"disagrees: {line}")
    console.print(
        f"Of each architecture {size.compared} designs in the stiff solver ({len(exceptions)} disagree), "
        f"{size.rated} rated, {size.weighed} weighed. "
        f"{time.monotonic() - began:.0f} s on {options.workers} processes."
    )
    return int(any(check.fails for check in checks))


if __name__ == "__main__":
    sys.exit(main())
