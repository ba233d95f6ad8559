"""A design of the ledger as packs are made of: its row, and what is gathered about it."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from boilerfront.model import Brief, evaluate_many
from boilerfront.model.tolerances import Tolerances
from boilerfront.results.candidates import Candidate
from boilerfront.results.confirm import with_fresh_machines
from boilerfront.results.pack import subject as subject_module
from boilerfront.results.pack.subject import Subject, gather
from boilerfront.results.schema import Provenance, ledger_schema, table_of
from tests.model.random_designs import BOOK

MADE = datetime(2026, 1, 31, 8, 0, tzinfo=UTC)
BRIEF = Brief(prices=BOOK, tolerances=Tolerances(samples=8))
DESIGN: dict[str, float | str | None] = {
    "architecture": "dual_boiler_coil",
    "brew_volume_mL": 400.0,
    "steam_volume_mL": 900.0,
    "brew_power_W": 900.0,
    "steam_power_W": 1200.0,
    "group_power_W": 150.0,
    "coil_length_m": 0.45,
    "coil_bore_mm": 4.0,
    "insulation_mm": 8.0,
    "steam_set_point_C": 122.0,
    "control": "pid",
}
FRESH = 16


def candidate(brief: Brief = BRIEF, **values: Any) -> Candidate:
    """Return a candidate whose row is what a ledger would hold of the design."""
    row = evaluate_many([DESIGN], brief)[0]
    behind = Provenance("demo é", "a" * 64, "q90 of the samples", 8, (brief.site.name,), currency="EUR")
    schema = ledger_schema(tuple(DESIGN), behind)
    table = table_of([{"trial": 7, "generation": 0, **DESIGN, **row, **values}], schema)
    return Candidate(7, "A", "for <b>Eva</b> & co", table.to_pylist()[0], schema)


def gathered(run: str, *, traced: int) -> Subject:
    """Return what a pack says of the candidate, from FRESH machines of which `traced` are traced."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(subject_module, "with_fresh_machines", lambda brief: with_fresh_machines(brief, FRESH))
        patch.setattr(subject_module, "TRACED", traced)
        return gather(run, candidate(), BRIEF, site="", made=MADE, tell=lambda text: None)
