"""The duty with the kernel's own step, taken finer than the kernel takes it: what the length of the step costs."""

from __future__ import annotations

from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.films import prepare
from boilerfront.model.kernel.march import SINGLE, move
from boilerfront.model.kernel.pace import set_step
from boilerfront.model.kernel.swing import swing_capacities
from boilerfront.model.runs import FINE_STEPS, Pool, Request
from tests.model.stiff_reference import Course
from tests.validate.stiff import Change, Watched


class Refined(Watched):
    """One run of a pool's plant 0, each step of idling cut into `parts`; draws follow the pool's fine steps."""

    precision = SINGLE

    def __init__(self, pool: Pool, request: Request, parts: int) -> None:
        super().__init__(pool, request)
        self.parts = parts

    def advance(self, dt: float) -> None:
        """Take the kernel's implicit step; a second of idling, planned as one step, becomes `parts` of them."""
        lanes = self.lanes
        S = lanes.S
        if self.parts > 1 and S[at.S_MODE, 0] == at.MODE_IDLE and S[at.S_SUBS, 0] == 1.0:
            set_step(0, S, lanes.P, float(self.parts), S[at.S_SPAN, 0])
        self.note()
        lanes.DT[:] = S[at.S_DT, 0]
        prepare(self.net, lanes, self.runs)
        swing_capacities(self.net, lanes)
        move(self.pool.advance, lanes)


def refined(pool: Pool, request: Request, parts: int) -> tuple[Course, list[Change]]:
    """Return the free course of plant 0 with every step of the kernel cut into `parts`, and its events."""
    finer = Pool(pool.plants[:1], pool.brief, fine_steps=parts * FINE_STEPS)
    run = Refined(finer, request, parts)
    return run.free(), run.changes
