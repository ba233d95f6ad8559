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
    """Say of each figure of a prototype whether it matches the model's band and meets the sweep's limit, and why."""
    from boilerfront.model.fit.columns import Columns, read_columns
    from boilerfront.model.fit.log_file import read_logs
    from boilerfront.results.acceptance import judge, overall, overall_requirement, read_acceptance
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
    opt.note(f"matches the model's band: {verdict}: {why}", err=False)
    opt.note("meets the requirement: " + ": ".join(filter(None, overall_requirement(verdicts))), err=False)
    if asked.release:
        tags = ", ".join(asked.release)
        opt.note(f"before pressure and mains, by the pack, must have been released: {tags}", err=False)
    opt.note(SHORT_CAUTION, err=False)
