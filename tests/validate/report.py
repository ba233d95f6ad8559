"""The table of all checks, and its summary by group."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from tests.validate.checks import COUNTED, UNDECIDED, Check, Kind

WIDTH = 190
"""Columns where nobody looks at a terminal."""


def checks_table(checks: Sequence[Check]) -> Table:
    """Return one row for each check, a line between groups."""
    table = Table(title="Checks", box=SIMPLE_HEAD, pad_edge=False)
    for head in ("group", "row", "check", "source"):
        table.add_column(head, overflow="fold")
    for head in ("expected", "computed", "difference"):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("allowed", overflow="fold")
    table.add_column("verdict")
    before = ""
    for check in checks:
        if check.group != before and before:
            table.add_section()
        before = check.group
        table.add_row(
            check.group,
            check.row,
            check.what,
            check.source + (" (called now)" if check.kind is Kind.LIBRARY else ""),
            number(check.expected, check.unit),
            number(check.computed, check.unit),
            difference(check),
            allowed(check),
            verdict(check),
        )
    return table


def number(value: float, unit: str) -> str:
    """Return a value with its unit."""
    return f"{value:.6g} {unit}".rstrip()


def difference(check: Check) -> str:
    """Return the difference, in the kind in which it is allowed."""
    if check.allowed.relative and check.expected:
        return f"{100.0 * check.difference / abs(check.expected):.2g} %"
    return f"{check.difference:.2g} {check.unit}".rstrip()


def allowed(check: Check) -> str:
    """Return what is allowed, and why."""
    parts = []
    if check.allowed.relative:
        parts.append(f"{100.0 * check.allowed.relative:.2g} %")
    if check.allowed.absolute or not parts:
        parts.append(f"{check.allowed.absolute:.2g} {check.unit}".rstrip())
    downwards = "downwards " if check.allowed.at_least else ""
    return f"{downwards}{' + '.join(parts)}: {check.allowed.why}"


def verdict(check: Check) -> Text:
    """Return the verdict; a band says where the number lies and decides nothing."""
    if check.kind is Kind.SHOWN:
        return Text("shown", "dim")
    if check.kind is Kind.BAND:
        return Text("in band", "dim") if check.holds else Text("outside band", "yellow")
    return Text("holds", "green") if check.holds else Text("FAILS", "bold red")


def summary_table(checks: Iterable[Check]) -> Table:
    """Return the numbers of checks by group: published values, libraries, proofs, bands, failures."""
    groups: dict[str, list[Check]] = {}
    for check in checks:
        groups.setdefault(check.group, []).append(check)
    table = Table(title="Summary", box=SIMPLE_HEAD, pad_edge=False, show_footer=True)
    everything = [check for group in groups.values() for check in group]
    counted = [(kind.value, kind) for kind in Kind]
    table.add_column("group", footer="all")
    for head, kind in counted:
        table.add_column(head, justify="right", footer=str(_count(everything, kind)))
    table.add_column("closest to its limit", justify="right", footer=_closest(everything))
    table.add_column("fail", justify="right", footer=str(sum(check.fails for check in everything)))
    for name, group in groups.items():
        cells = [str(_count(group, kind) or "") for _, kind in counted]
        table.add_row(name, *cells, _closest(group), str(sum(check.fails for check in group)))
    return table


def _count(checks: Iterable[Check], kind: Kind) -> int:
    return sum(check.kind is kind for check in checks)


def _closest(checks: Iterable[Check]) -> str:
    """Return the largest difference as a share of what it may be."""
    shares = [
        check.excess / check.allowed.of(check.expected)
        for check in checks
        if check.kind not in UNDECIDED and check.allowed.of(check.expected) > 0.0
    ]
    return f"{100.0 * max(shares):.0f} %" if shares else ""


def print_report(console: Console, checks: Sequence[Check], *, brief: bool) -> None:
    """Print the table, then the summary and what fails."""
    if not brief:
        console.print(checks_table(checks))
    console.print(summary_table(checks))
    counted = [check for check in checks if check.kind in COUNTED]
    groups = {check.group for check in counted}
    console.print(f"{len(counted)} values published or of a library, in {len(groups)} groups.")
    for check in checks:
        if check.fails or (check.kind is Kind.BAND and not check.holds):
            how = "FAILS" if check.fails else "outside its band"
            console.print(
                f"{how}: {check.group}, {check.what}: {difference(check)}, allowed {allowed(check)}"
            )
