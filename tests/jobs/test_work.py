"""A task on a worker: a row for each design, whatever one of them does."""

from __future__ import annotations

from collections.abc import Sequence

from boilerfront.jobs.sweep import load_sweep
from boilerfront.jobs.work import Design, Row, Work
from boilerfront.model.brief import Brief
from tests.jobs.toy import STARTER

BRIEF = load_sweep(STARTER).brief()


def _greedy(designs: Sequence[Design], brief: Brief) -> list[Row]:
    """Return a cost each; a boiler of 800 mL asks for more memory than there is."""
    if any(each["brew_volume_mL"] == 800.0 for each in designs):
        raise MemoryError
    return [{"part_cost": 2.0, "feasible": True} for _ in designs]


def test_only_the_design_that_asks_for_too_much_memory_is_faulty() -> None:
    designs: list[Design] = [{"brew_volume_mL": volume} for volume in (300.0, 800.0, 400.0)]
    rows = Work(_greedy, BRIEF)([4, 5, 6], designs)
    assert [row["trial"] for row in rows] == [4, 5, 6]
    assert [row.get("fault") for row in rows] == [None, "more memory than a worker has", None]
    assert [row["feasible"] for row in rows] == [True, False, True]
    assert rows[1]["brew_volume_mL"] == 800.0
