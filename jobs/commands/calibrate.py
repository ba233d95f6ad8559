"""`calibrate`: coefficients of the model from bench logs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from boilerfront.jobs.commands import options as opt


def calibrate(
    sweep: Annotated[Path, typer.Argument(metavar="SWEEP", help="The sweep whose site and part data hold.")],
    logs: Annotated[list[Path], typer.Argument(metavar="LOG.csv...", help="Bench logs of one machine.")],
    design: Annotated[
        Path,
        typer.Option("--design", metavar="FILE", help="What stands on the bench, as TOML: variable = value."),
    ],
    out: Annotated[
        Path, typer.Option("--out", metavar="FILE", help="Where the calibration goes; its picture beside it.")
    ],
    columns: Annotated[
        Path | None,
        typer.Option("--columns", metavar="FILE", help="Which column of the logs is what, as TOML."),
    ] = None,
    fit: Annotated[
        str,
        typer.Option(
            "--fit", metavar="A,B", help="Coefficients to fit; all that the machine has if not said."
        ),
    ] = "",
    site: opt.MarketName = None,
) -> None:
    """Correct coefficients of the model by bench logs, and say what the logs tell and what they do not."""
    import time
    from datetime import datetime

    from boilerfront.jobs.design_file import read_design_file
    from boilerfront.jobs.progress import Teller
    from boilerfront.jobs.ranges import middle_design
    from boilerfront.jobs.sweep import load_sweep
    from boilerfront.model.calibration import calibration_toml
    from boilerfront.model.fit.calibrate import calibrate as calibrated_by
    from boilerfront.model.fit.columns import Columns, read_columns
    from boilerfront.model.fit.log_file import read_logs
    from boilerfront.model.markets import design_at
    from boilerfront.results.fit_plot import residual_png
    from boilerfront.results.fit_text import coefficient_table, findings, heading, prediction_table
    from boilerfront.results.show import as_text, write_out
    from boilerfront.shared.errors import Fault, InputError

    if out.suffix != ".toml":
        raise InputError([Fault("--out", out.name, "a name that ends in .toml")])
    if not out.absolute().parent.is_dir():  # better known now than after the fit
        raise InputError([Fault("--out", str(out.parent), "a folder that is there")])
    loaded = load_sweep(sweep)
    market, brief = opt.chosen_market(loaded.brief(), site)
    values = middle_design(loaded.variables, read_design_file(design, loaded.variables))
    mapping = Columns() if columns is None else read_columns(columns)
    read = read_logs(logs, mapping)
    teller = Teller()
    found = calibrated_by(
        design_at(values, market),
        brief,
        read,
        wanted=[name.strip() for name in fit.split(",") if name.strip()],
        tell=lambda text: teller.progress(time.monotonic(), text),
    )
    teller.clear()
    said = findings(found)
    made = datetime.now().astimezone().isoformat(timespec="seconds")
    write_out(out, calibration_toml(found.calibration(made=made, notes=said)).encode())
    picture = out.with_suffix(".png")
    write_out(picture, residual_png(found))
    typer.echo(heading(found))
    typer.echo(as_text(coefficient_table(found), width=opt.width(), chooser=""))
    if found.predictions:
        typer.echo(as_text(prediction_table(found), width=opt.width(), chooser=""))
    for sentence in said:
        opt.note(sentence, err=False)
    typer.echo(out)
    typer.echo(picture)
