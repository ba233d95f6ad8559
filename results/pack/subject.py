"""All that a pack tells of: one candidate at one site, described, run on fresh machines, with its ledger's row."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from math import isclose

import numpy as np

from boilerfront.model.brief import Brief
from boilerfront.model.describe import Description, describe
from boilerfront.model.glossary import COLUMNS, FIGURES, OBJECTIVES, at_site
from boilerfront.model.markets import design_at, evaluate_many
from boilerfront.model.spread import Spread, spread, traced_machines
from boilerfront.model.tolerances import robust
from boilerfront.model.traces import Trace, simulate
from boilerfront.results.candidates import Candidate, Design
from boilerfront.results.confirm import FRESH_MACHINES, with_fresh_machines
from boilerfront.results.pack.bands import Bands, bands_of
from boilerfront.results.pack.required import Required, required
from boilerfront.results.schema import metadata_of
from boilerfront.results.show import NO_VALUE, cell_text
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.shapes import Floats

TRACED = 64
"""Machines of the batch whose traces make the bands of the charts."""
NOMINAL = tuple(f"{name}_nominal" for name in OBJECTIVES)
SAME = 1e-6
"""Difference, relative or in the figure's unit, up to which a figure computed again is the ledger's."""


@dataclass(frozen=True)
class Subject:
    """`site` is the name of a market, empty where the sweep has one site.

    `alone` is the row of the nominal machine at the site, computed again; `trace` its trace.
    """

    run: str
    candidate: Candidate
    site: str
    brief: Brief
    design: Design
    machine: Description
    spread: Spread
    bands: Bands
    alone: Mapping[str, float | int | bool | str | None]
    trace: Trace
    made: datetime

    @property
    def label(self) -> str:
        """Return what a person calls the candidate."""
        return self.candidate.label

    @property
    def required(self) -> tuple[Required, ...]:
        """Return what the machine needs besides its bill."""
        return required(self.machine, valve_bar=self.brief.machine.vessels.brew_valve_bar)

    def number(self, name: str) -> float | None:
        """Return the ledger's value of a column; None where there is none.

        Where the sweep has several sites it is the site's own: what the ledger holds of all of them together only
        is computed again for this one.
        """
        row, own = self.candidate.row, at_site(name, self.site)
        value = row.get(own) if own in row else self.alone.get(name) if self.site else row.get(name)
        return None if value is None else float(value)

    def shown(self, name: str, value: float | None) -> str:
        """Return a value of a column with the digits that it deserves."""
        if value is None or not np.isfinite(value):
            return NO_VALUE
        return cell_text(float(value), COLUMNS[name].digits)

    def unit(self, name: str) -> str:
        """Return a column's unit."""
        unit = COLUMNS[name].unit
        return self.brief.prices.currency if unit == "currency" else unit

    def text(self, name: str) -> str:
        """Return the ledger's value with its unit."""
        return f"{self.shown(name, self.number(name))} {self.unit(name)}".strip()

    def fresh(self, name: str) -> float | None:
        """Return the value of an objective that the share of the tolerances keeps on the fresh machines."""
        values = self.spread.figures[name]
        kept = robust(np.where(np.isfinite(values), values, np.inf), self.brief.tolerances.share)
        return kept if np.isfinite(kept) else None

    def band(self, name: str) -> Floats | None:
        """Return lowest, 5 %, 95 % and highest value of a figure over the fresh machines; None where it has none."""
        values = self.spread.figures.get(name)
        if values is None or not np.isfinite(values).any():
            return None
        return np.asarray(np.nanpercentile(values, [0.0, 5.0, 95.0, 100.0]))

    @property
    def statistic(self) -> str:
        """Return what the ledger's objectives are, for people."""
        metadata = metadata_of(self.candidate.schema.field("shot_deviation_K"))
        if metadata.get("samples", "1") == "1":
            return "nominal machine alone"
        share = 100.0 * self.brief.tolerances.share
        return f"kept by {share:g} % of {metadata['samples']} machines"

    @property
    def was_computed_alike(self) -> bool:
        """Return whether the model of today gives the ledger's figures of the nominal machine."""
        row = self.candidate.row
        kept = {
            name: row.get(at_site(name, self.site) if self.site else name) for name in (*FIGURES, *NOMINAL)
        }
        return all(
            isclose(float(value), float(again), rel_tol=SAME, abs_tol=SAME)
            for name, value in kept.items()
            if value is not None and (again := self.alone.get(name)) is not None
        )


def gather(
    run: str, candidate: Candidate, brief: Brief, *, site: str, made: datetime, tell: Callable[[str], None]
) -> Subject:
    """Return all about a candidate; `brief` is that of `site` alone.

    Raises `InputError` where the candidate did not come through its duty: there is nothing to predict.
    """
    row = candidate.row
    why = row["reason"] or row["fault"]
    if why is not None:
        raise InputError([Fault("TRIAL", f"{candidate.label}: {why}", "a design that came through its duty")])
    design = dict(design_at(candidate.design, site))
    fresh = with_fresh_machines(brief)
    tell(f"{candidate.label}: {FRESH_MACHINES} fresh machines")
    found = spread(design, fresh)
    tell(f"{candidate.label}: traces of {TRACED} of them")
    trace = simulate(design, brief)
    nominal = brief.model_copy(update={"tolerances": brief.tolerances.model_copy(update={"samples": 0})})
    first = {name: values[:TRACED] for name, values in found.machines.items()}
    traces = traced_machines(design, fresh, first, offset_K=found.offset_K)
    return Subject(
        run=run,
        candidate=candidate,
        site=site,
        brief=brief,
        design=design,
        machine=describe(design, brief, offset_K=found.offset_K),
        spread=found,
        bands=bands_of(trace, traces),
        alone=evaluate_many([design], nominal)[0],
        trace=trace,
        made=made,
    )
