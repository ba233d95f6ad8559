"""What the machines of one design's batch do, each by itself: figures, shots and traces."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from boilerfront.model import figures as fig
from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.brief import Brief
from boilerfront.model.design import read_design
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.codes import DONE
from boilerfront.model.rating import Batch
from boilerfront.model.runs import Pool, Request
from boilerfront.model.traces import Trace, trace_of
from boilerfront.model.variables import Value
from boilerfront.shared.errors import InputError
from boilerfront.shared.shapes import Floats


@dataclass(frozen=True)
class Spread:
    """The batch of a design that is trimmed by `offset_K`.

    `machines`: how each differs, by column of the tolerances [machines]. `figures`: objectives and figures by name
    [machines], NaN where a machine has none or did not come through. `margins`: those that machines differ in by name
    [machines], -inf where a machine did not come through. `shot_errors_K` [machines, shots]: mean error of each shot.
    """

    offset_K: float
    machines: dict[str, Floats]
    figures: dict[str, Floats]
    margins: dict[str, Floats]
    shot_errors_K: Floats


def spread(design: Mapping[str, Value], brief: Brief) -> Spread:
    """Run the batch of one design.

    Raises `InputError` where the design is none, or its nominal machine does not come through its duty.
    """
    pool, batch = _batch_of_one(design, brief)
    trims, _ = batch.trimmed()
    if batch.failed or not trims[0].done:
        raise InputError("the nominal machine of this design does not come through its duty")
    ran = batch.machines([0], trims)[0]
    rows = [
        _figures(out, shots, pool, brief) if out[at.O_CODE] == DONE else {}
        for out, shots in zip(ran.out, ran.shots, strict=True)
    ]
    names = list(dict.fromkeys(name for row in rows for name in row))
    return Spread(
        offset_K=trims[0].offset_K,
        machines=brief.machines(),
        figures={name: np.array([_number(row.get(name)) for row in rows]) for name in names},
        margins=_margins(ran.out, pool, brief),
        shot_errors_K=ran.shots[:, : fig.shot_count(brief), at.H_MEAN],
    )


def traced_machines(
    design: Mapping[str, Value], brief: Brief, machines: Mapping[str, Floats], *, offset_K: float
) -> Iterator[Trace]:
    """Yield the trace of each machine [machines] of a design that is trimmed by an offset, one at a time."""
    pool, batch = _batch_of_one(design, brief)
    for k in range(len(next(iter(machines.values())))):
        machine = {name: float(values[k]) for name, values in machines.items()}
        yield trace_of(pool, Request(0, batch.user_C, offset_K, machine))


def _batch_of_one(design: Mapping[str, Value], brief: Brief) -> tuple[Pool, Batch]:
    read = read_design(design, brief.machine)
    pool = Pool([ARCHITECTURES[read.architecture].build(read, brief)], brief)
    return pool, Batch(pool)


def _figures(out: Floats, shots: Floats, pool: Pool, brief: Brief) -> fig.Figures:
    plant = pool.plants[0]
    return {
        **fig.objectives(out, shots, plant, brief),
        **fig.run_figures(out, plant, brief),
        **fig.shot_figures(shots, brief),
    }


def _margins(out: Floats, pool: Pool, brief: Brief) -> dict[str, Floats]:
    rows = [fig.run_margins(each, pool.plants[0], brief) if each[at.O_CODE] == DONE else None for each in out]
    came = next((row for row in rows if row is not None), {})
    return {
        name: np.array([-np.inf if row is None else _number(row[name]) for row in rows])
        for name, value in came.items()
        if value is not None
    }


def _number(value: float | None) -> float:
    return np.nan if value is None else value
