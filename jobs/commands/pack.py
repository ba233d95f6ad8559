"""`pack`: for each candidate a folder with what the workshop needs."""

from __future__ import annotations

import time
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from boilerfront.jobs.commands import options as opt


def pack(
    run: opt.Run,
    trials: Annotated[
        list[str], typer.Argument(metavar="TRIAL...", help="Candidates, by their numbers or letters.")
    ],
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Where the packs' folders shall lie.")],
    site: opt.MarketName = None,
    runs: opt.Runs = None,
) -> None:
    """Write prototype packs: drawing, sizes, bill, settings, predictions with bands, bench plan, cautions."""
    from boilerfront.jobs.launch import frozen_sweep
    from boilerfront.jobs.progress import Teller
    from boilerfront.results.candidates import candidates
    from boilerfront.results.cautions import SHORT_CAUTION
    from boilerfront.results.pack.subject import gather
    from boilerfront.results.pack.write import checked_folders, folder_of, write_pack

    folder = opt.chosen_run(run, runs)
    chosen = list({each.trial: each for each in candidates(folder, trials)}.values())  # each once
    market, brief = opt.chosen_market(frozen_sweep(folder).brief(), site)
    places = checked_folders(out, [folder_of(each, market) for each in chosen])
    teller = Teller()
    now = datetime.now().astimezone()
    for candidate, place in zip(chosen, places, strict=True):
        subject = gather(
            folder.name,
            candidate,
            brief,
            site=market,
            made=now,
            tell=lambda text: teller.progress(time.monotonic(), text),
        )
        write_pack(place, subject)
        teller.clear()
        typer.echo(place)
    opt.note(SHORT_CAUTION, err=False)
