"""Convergence with the step: the kernel's own step halved twice, the observed order, the distance to the limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boilerfront.model.figures import has_steam_event
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.codes import DONE
from boilerfront.shared.shapes import Floats
from tests.model.random_designs import NOMINAL
from tests.validate.checks import Allowed, Group, Kind, Value
from tests.validate.machines import nominal_request, pool_of, random_machine
from tests.validate.refined import refined
from tests.validate.stiff import first_flip, recorded_changes

PARTS = (1, 2, 4)
MOST_TRIED = 60
UNITS = {"shots before steaming": "K", "warm-up": "s", "energy of a session": "kWh", "slug": "mL"}
ORDER = Allowed(absolute=0.5, why="first order at least; three steps are few", at_least=True)
DISTANCE = {
    "shots before steaming": Allowed(absolute=0.05, why="as against the stiff solver"),
    "warm-up": Allowed(relative=0.005, why="as against the stiff solver"),
    "energy of a session": Allowed(relative=1e-3, why="as the energy balance"),
    "slug": Allowed(absolute=0.5, why="a third of a second of a shot"),
}
MATTERS = 0.05
"""A change by halving that is less than this part of the allowed distance is shown, its order decides nothing."""


@dataclass(frozen=True)
class Steps:
    """Quantities of one design at each of `PARTS` [parts, values] and as the kernel runs it [values]."""

    architecture: str
    index: int
    refined: dict[str, Floats]
    kernel: dict[str, Floats]


def quantities(out: Floats, shots: Floats) -> dict[str, Floats]:
    """Return what is looked at. Later shots follow refills, whose second may flip: they have a proof of their own."""
    events = NOMINAL.duty.events
    kinds = [event.kind for event in events]
    session_J = out[at.O_ENERGY_J] + out[at.O_HOLD_W] * NOMINAL.machine.control.hold_s
    first = kinds.index("steam") if has_steam_event(NOMINAL) else len(kinds)
    return {
        "shots before steaming": shots[:first, at.H_MEAN].copy(),
        "warm-up": np.array([out[at.O_READY_S]]),
        "energy of a session": np.array([session_J / 3.6e6]),
        "slug": np.array([1e6 * out[at.O_SLUG_M3]]),
    }


def refine(architecture: str, first: int) -> Steps:
    """Run a design with the step as it is, halved and quartered: `first`, or two further on until one works.

    Works: comes through its duty, and every event keeps its second; those that flip have the stiff solver as proof.
    """
    for index in range(first, first + MOST_TRIED, 2):
        pool = pool_of(random_machine(architecture, index))
        request = nominal_request(pool)
        ran = pool.run([request], record=True)
        if ran.out[0, at.O_CODE] != DONE:
            continue
        events = recorded_changes(ran.record)
        runs = [refined(pool, request, parts) for parts in PARTS]
        if not any(first_flip(events, changes) for _, changes in runs):
            each = [quantities(course.out, course.shots) for course, _ in runs]
            values = {name: np.array([one[name] for one in each]) for name in UNITS}
            return Steps(architecture, index, values, quantities(ran.out[0], ran.shots[0]))
    raise ValueError(f"{architecture}: none of the designs {first}, {first + 2} ... keeps its events")


def step_group(found: list[Steps]) -> Group:
    """Return the checks: order where it shows, and how far the kernel lies from the limit of ever finer steps."""
    group = Group("step of the march")
    for one in found:
        for name, values in one.refined.items():
            first, second = (_size(values[k] - values[k + 1]) for k in (0, 1))
            if first == 0.0 or second == 0.0:
                continue
            design = f"{one.architecture} {one.index}"
            limit = 2.0 * values[-1] - values[-2]  # as if of first order: the cautious extrapolation
            worst = int(np.argmax(np.abs(one.kernel[name] - limit)))
            decides = first >= MATTERS * DISTANCE[name].of(limit[worst])
            order = Value(f"order of {name}, {design}", 1.0, float(np.log2(first / second)))
            kind = Kind.PROOF if decides else Kind.SHOWN
            group.add([order], source="steps halved twice", allowed=ORDER, kind=kind)
            distance = Value(f"{name}, {design}", limit[worst], one.kernel[name][worst], UNITS[name])
            group.add([distance], source="limit of finer steps", allowed=DISTANCE[name], kind=Kind.PROOF)
    return group


def _size(values: Floats) -> float:
    return float(np.sqrt(np.mean(values**2)))
