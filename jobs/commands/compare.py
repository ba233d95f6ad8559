"""`compare`: fronts of several runs side by side."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from boilerfront.jobs.commands import options as opt


def compare(
    names: Annotated[list[str], typer.Argument(metavar="RUN RUN...", help="Two runs or more.")],
    runs: opt.Runs = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", metavar="FILE", help="A picture (.png, .svg, .pdf), or all fronts (.csv, .parquet)."
        ),
    ] = None,
) -> None:
    """Compare the fronts of runs: what one has that the others have not."""
    from boilerfront.jobs.comparing import form_of, sides_of, sweep_differences, write_comparison
    from boilerfront.jobs.standing import standing_picks
    from boilerfront.results.compare import compare as compared
    from boilerfront.results.compare_tables import comparison_text

    chosen = [opt.chosen_run(name, runs) for name in names]
    if out is not None:
        form_of(out)  # a name that cannot be written is better known now
    sides, notes = sides_of(chosen)
    comparison = compared(sides)
    for piece in comparison_text(comparison, width=opt.width()):
        typer.echo(piece)
    for line in (*sweep_differences(chosen), *notes, *standing_picks(chosen)):
        opt.note(line, err=False)
    if out is not None:
        write_comparison(out, comparison)
        typer.echo(out)
