"""The tables of a sweep: which columns they have, and what is behind them."""

from __future__ import annotations

import pyarrow as pa

from boilerfront.jobs.frozen import sweep_hash, versions
from boilerfront.jobs.ranges import columns
from boilerfront.jobs.sweep import Sweep
from boilerfront.model.glossary import site_columns
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import WORST_SITE, Provenance, ledger_schema

MEAN_OF_SITES = "mean of the sites by weight"


def sweep_schema(sweep: Sweep, behind: Provenance) -> pa.Schema:
    """Return the schema of a sweep's ledger."""
    variables = columns(sweep.variables)[1:]
    return ledger_schema(variables, behind, columns=site_columns(tuple(sweep.sites), variables))


def provenance(run: RunFolder, sweep: Sweep) -> Provenance:
    """Return where a run's tables come from."""
    count = sweep.tolerances.samples
    nearly_all = f"q{100 * sweep.tolerances.share:g} of the samples"
    return Provenance(
        run=run.name,
        sweep_hash=sweep_hash(sweep),
        statistic=nearly_all if count else "nominal",
        samples=max(1, count),
        sites=tuple(sweep.sites) or (sweep.site.name,),
        across=MEAN_OF_SITES if sweep.markets.weights else WORST_SITE,
        currency=sweep.prices.currency,
        versions=sweep.run.versions if sweep.run else versions(),
    )
