"""The duty with the kernel's own step, taken finer than the kernel takes it: what the length of the step costs."""

from __future__ import annotations

import numpy as np

from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.duty import set_step
from boilerfront.model.kernel.films import conductances, refresh_rows, water_capacities
from boilerfront.model.kernel.swing import swing_capacities
from boilerfront.model.runs import FINE_STEPS, Pool, Request
from tests.model.stiff_reference import Course
from tests.validate.stiff import Change, Watched


class Refined(Watched):
    """One run of a pool's plant 0, each step of idling cut into `parts`; draws follow the pool's fine steps.

    `fresh`: film laws are taken anew in every step, which leaves the step alone to be seen; the kernel keeps them
    until their temperature has moved by 0.05 K.
    """

    def __init__(self, pool: Pool, request: Request, parts: int, *, fresh: bool) -> None:
        super().__init__(pool, request)
        self.parts = parts
        self.fresh = fresh

    def advance(self, dt: float) -> None:
        """Take the kernel's implicit step; a second of idling, planned as one step, becomes `parts` of them."""
        lanes = self.lanes
        S = lanes.S
        if self.parts > 1 and S[at.S_MODE, 0] == at.MODE_IDLE and S[at.S_SUBS, 0] == 1.0:
            set_step(0, S, lanes.P, float(self.parts), S[at.S_SPAN, 0])
        self.note()
        lanes.DT[:] = S[at.S_DT, 0]
        if self.fresh:
            lanes.row_x[:] = -np.inf
        refresh_rows(self.net, lanes, self.runs.laws, 0, 0)
        conductances(self.net, lanes)
        water_capacities(self.net, lanes)
        swing_capacities(self.net, lanes)
        self.pool.advance(lanes.buffer)


def refined(pool: Pool, request: Request, parts: int, *, fresh: bool = True) -> tuple[Course, list[Change]]:
    """Return the free course of plant 0 with every step of the kernel cut into `parts`, and its events."""
    finer = Pool(pool.plants[:1], pool.brief, fine_steps=parts * FINE_STEPS)
    run = Refined(finer, request, parts, fresh=fresh)
    return run.free(), run.changes
