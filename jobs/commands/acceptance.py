"""`acceptance`: bench logs against a pack's pass bands."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from boilerfront.jobs.commands import options as opt


def acceptance(
    pack: Annotated[Path, typer.Argument(metavar="PACK", help="A pack's folder.")],
    logs: Annotated[list[Path], typer.Argument(metavar="LOG.csv...", help="One for each cold start.")],
    columns: Annotated[
        Path | None,
        typer.Option("--columns", metavar="FILE", help="Which column of the logs is what, as TOML."),
    ] = None,
    form: Annotated[
        Literal["text", "csv", "json"], typer.Option("--format", help="How it is shown.")
    ] = "text",
) -> None:
    """Say of each figure of a prototype whether it passes, fails, or cannot be told from the log, and why."""
    from boilerfront.model.fit.columns import Columns, read_columns
    from boilerfront.model.fit.log_file import read_logs
    from boilerfront.results.acceptance import judge, overall, read_acceptance
    from boilerfront.results.acceptance_table import verdict_table
    from boilerfront.results.cautions import SHORT_CAUTION
    from boilerfront.results.show import as_text, rendered

    asked = read_acceptance(pack)
    read = read_logs(logs, Columns() if columns is None else read_columns(columns))
    verdicts = judge(asked, read)
    table = verdict_table(verdicts)
    if form != "text":
        typer.echo(rendered(table, form).decode(), nl=False)
        return
    typer.echo(as_text(table, width=opt.width(), chooser=""))
    for log in read:
        for note in log.notes:
            opt.note(f"{log.name}: {note}", err=False)
    verdict, why = overall(asked, verdicts, len(read))
    opt.note(f"{verdict}: {why}", err=False)
    opt.note(SHORT_CAUTION, err=False)
