"""What may be called a difference between two designs, and one design for each cell of that size."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from boilerfront.results.schema import group_of, unit_of

RESOLUTION = {"shot_deviation_K": 0.05, "warm_up_s": 10.0, "energy_kWh_day": 0.01, "part_cost": 1.0}
"""Less than this is no difference, in the objective's own unit."""

# A value on a cell's edge, such as 3 x 0.05, must not fall into the cell below by rounding.
_EDGE = 1e-9


def one_per_cell(found: pa.Table) -> tuple[pa.Table, list[str]]:
    """Return the first row of each cell of the resolution, and a note where that leaves rows out."""
    names = [name for name in group_of(found.schema, "objective") if name in RESOLUTION]
    if not names or not found.num_rows:
        return found, []
    cells = [np.floor(found[name].to_numpy() / RESOLUTION[name] + _EDGE) for name in names]
    _, first = np.unique(np.column_stack(cells), axis=0, return_index=True)
    kept = found.take(np.sort(first))
    if kept.num_rows == found.num_rows:
        return found, []
    size = ", ".join(f"{RESOLUTION[name]:g} {unit_of(found.schema.field(name))}" for name in names)
    note = f"{kept.num_rows} of {found.num_rows} designs: one per cell of {size}; --exact shows all"
    return kept, [note]
