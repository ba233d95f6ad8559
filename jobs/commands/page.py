"""`page`: a run as one self-contained HTML page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boilerfront.jobs.commands import options as opt
from boilerfront.shared.errors import Fault, InputError

if TYPE_CHECKING:
    from boilerfront.model import Brief
    from boilerfront.results.run_folder import RunFolder

_SUFFIXES = (".html", ".htm")


def page(
    run: opt.Run,
    out: Annotated[Path, typer.Option("--out", metavar="FILE.html", help="Write it there.")],
    runs: opt.Runs = None,
) -> None:
    """Write one page with pictures, table, traces and settings that opens without a network."""
    from boilerfront.results.page.write import write_page

    if out.suffix.lower() not in _SUFFIXES:
        raise InputError([Fault("--out", out.name, "a name that ends in .html")])
    chosen = opt.chosen_run(run, runs)
    brief, why_none = _brief(chosen)
    content = write_page(chosen, out, brief, called=run, why_no_traces=why_none)
    for note in content.notes:
        opt.note(note)
    size = out.stat().st_size / 1e6
    opt.note(
        f"{out}: {content.table.num_rows:,} of {content.front_size:,} designs of the front, "
        f"{len(content.traces)} with traces, {size:.1f} MB",
        err=False,
    )


def _brief(run: RunFolder) -> tuple[Brief | None, str]:
    """Return what the run's designs have in common, or why their traces cannot be computed any more.

    The table of a run outlives a change of the model; only what is simulated anew needs the same keys.
    """
    from boilerfront.jobs.launch import frozen_sweep

    try:
        return frozen_sweep(run).brief(), ""
    except InputError as error:
        return None, f"Without traces: {error}"
