"""External checks, convergence, the stiff solver and balances as one table: `make validate`."""

from __future__ import annotations

import sys

from rich.console import Console

from tests.validate.published import PUBLISHED, checks_of
from tests.validate.report import WIDTH, print_report


def main() -> int:
    """Print the table; return 1 where a check fails."""
    checks = [check for name in PUBLISHED for check in checks_of(name)]
    console = Console()
    print_report(console if console.is_terminal else Console(width=WIDTH), checks, brief=False)
    return int(any(check.fails for check in checks))


if __name__ == "__main__":
    sys.exit(main())
