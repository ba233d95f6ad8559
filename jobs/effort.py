"""What a design costs to evaluate and to plan, and how often a surrogate is worth its time.

Nothing is timed here: a share that followed the clock would give other trials on another day. The default
comes from figures measured once, by architecture and machines in the batch; `inspect` measures the sweep's
own designs and proposes another share where theirs differ. Measured with

    python -m tests.bench.bench_effort

on one core of a cloud machine (2 cores, both busy), starter `compact-230v`, before a step was in
single precision: the march has become up to 1.6 times as fast since, measured on another machine.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from boilerfront.jobs.ranges import architectures

if TYPE_CHECKING:
    from boilerfront.jobs.sweep import Sweep

SET_POINT_RUNS = 2
TRIM_RUNS = 3
"""Runs that a trim usually takes; it may take four."""

EVALUATION_MS = {
    "thermoblock": (5.4, 0.76),
    "single_boiler": (2.9, 0.47),
    "heat_exchanger": (13.6, 0.43),
    "dual_boiler": (2.4, 0.43),
    "dual_boiler_coil": (4.7, 0.52),
}
"""Of a design: alone, and for each machine of its batch (with 0, 1, 8 and 32 machines, straight line)."""
_CHEAPEST_MS = min(EVALUATION_MS.values())
"""For an architecture that was not measured."""
_MODEL_MS = 0.48
"""What the surrogate adds to planning a design, with it as often as it may pay (four objectives, all margins, 500 to
5,000 designs): 0.37 on the machine of the evaluations, times 1.3 for steps down its gradient, measured elsewhere."""
_SPARED = 2.0
"""Evaluations that a design planned with the surrogate spares: 500 with it find what takes evolution alone
2,000 on most of the problems of `make bench`, but no less on those with many local fronts."""
_WORKERS = 8
"""Cores that evaluate side by side while one of them plans: an ordinary desk machine."""


def machine_runs(sweep: Sweep, *, samples: int | None = None) -> int:
    """Return how many protocols the machines of a design's batch run, at each site.

    `samples` machines in the batch instead of the sweep's own number.
    """
    machines = sweep.tolerances.samples if samples is None else samples
    # a later session is one more run of every machine, and of the nominal one, which runs its first again
    return machines + (machines + 2 if sweep.duty.sessions > 1 else 0)


def runs_a_design(sweep: Sweep, *, samples: int | None = None) -> int:
    """Return how many protocols a design is put through, with a usual number of trim runs, over all sites."""
    return max(1, len(sweep.sites)) * (machine_runs(sweep, samples=samples) + TRIM_RUNS + SET_POINT_RUNS)


def surrogate_share(sweep: Sweep) -> float:
    """Return how often a sweep's generations are planned with a surrogate, 0 to 1.

    It is what the sweep says; else 1 for a run of before there was a choice, else the default.
    """
    if sweep.search.surrogate is not None:
        return sweep.search.surrogate
    return 1.0 if sweep.run else worthwhile_share(_usual_ms(sweep), workers=_WORKERS)


def worthwhile_share(evaluation_ms: float, *, workers: int) -> float:
    """Return the share with which the surrogate takes no more time than it spares, in steps of 0.05.

    Evaluations run side by side on `workers`, planning does not.
    """
    return min(1.0, max(1, round(20 * _SPARED * evaluation_ms / workers / _MODEL_MS)) / 20)


def _usual_ms(sweep: Sweep) -> float:
    """Return what a design of the sweep's architectures usually costs, in the mean, over all sites."""
    costs = [EVALUATION_MS.get(kind, _CHEAPEST_MS) for kind in architectures(sweep.variables)]
    runs = machine_runs(sweep)
    return max(1, len(sweep.sites)) * sum(alone + each * runs for alone, each in costs) / len(costs)
