"""The kernel against scipy's stiff solver on the same equations, design by design."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.codes import DONE, REASONS
from boilerfront.model.runs import Pool, Request
from boilerfront.shared.shapes import Floats
from tests.model.stiff_reference import Course, Reference
from tests.validate.checks import Allowed, Group, Kind, Value
from tests.validate.machines import Design, nominal_request, pool_of, random_machine

SHOT_K = 0.05
WARM_UP_SHARE, WARM_UP_S = 0.005, 2.0
MOST = 0.95
ALIKE_S = 0.5
"""Events less than half a sample apart are the same: they shift with when a solver is ready; a flip is a sample."""
MODES = {
    float(getattr(at, name)): name.removeprefix("MODE_").lower() for name in dir(at) if name[:5] == "MODE_"
}

Change = tuple[float, str]
"""When something of the duty begins or ends [s], and what."""


@dataclass(frozen=True)
class Compared:
    """One design in both solvers; NaN where it pulls no shot, or is never ready, in both.

    `imposed_K`: largest difference of a shot's sample, events and powers of the kernel imposed on the other;
    `late`: relative difference of warm-up, 0 within 2 s; `shot_K`: largest difference of a shot's mean, each
    solver with its own controller; `flipped`: the first event that differs between them.
    """

    architecture: str
    index: int
    imposed_K: float
    late: float
    shot_K: float
    ends_alike: bool
    flipped: str

    @property
    def agrees(self) -> bool:
        """Return whether the freely running solvers agree in warm-up, shots and end."""
        return self.ends_alike and not self.late > WARM_UP_SHARE and not self.shot_K > SHOT_K


class Watched(Reference):
    """A free run that notes what begins and ends."""

    def __init__(self, pool: Pool, request: Request) -> None:
        super().__init__(pool, request)
        self.changes: list[Change] = []
        self._state = ("idle", False)

    def advance(self, dt: float) -> None:
        """Note changes, then integrate."""
        self.note()
        super().advance(dt)

    def note(self) -> None:
        """Note what begins or ends with the coming step."""
        S = self.lanes.S
        time = float(S[at.S_TIME, 0] + S[at.S_SUB, 0] * S[at.S_DT, 0])
        now = (MODES[float(S[at.S_MODE, 0])], bool(S[at.S_REFILL, 0] > 0.0))
        self.changes += changed(time, self._state, now)
        self._state = now


def changed(time: float, before: tuple[str, bool], now: tuple[str, bool]) -> list[Change]:
    """Return what changes between two steps."""
    changes = [(time, f"{before[0]} to {now[0]}")] if before[0] != now[0] else []
    if before[1] != now[1]:
        changes.append((time, "refill begins" if now[1] else "refill ends"))
    return changes


def recorded_changes(record: Floats) -> list[Change]:
    """Return the changes of a kernel's record."""
    changes: list[Change] = []
    state = ("idle", False)
    for row in record:
        now = (MODES[float(row[at.R_MODE])], bool(row[at.R_REFILL_KG_S] > 0.0))
        changes += changed(float(row[at.R_TIME_S] - row[at.R_DT_S]), state, now)
        state = now
    return changes


def first_flip(kernel: list[Change], stiff: list[Change]) -> str:
    """Return the first event that differs, empty where all are the same."""
    for (t, what), (other_t, other) in zip(kernel, stiff, strict=False):
        if what != other or abs(t - other_t) > ALIKE_S:
            return f"{what} at {t:g} s, in the stiff solver {other} at {other_t:g} s"
    if len(kernel) != len(stiff):
        return f"{len(kernel)} events, in the stiff solver {len(stiff)}"
    return ""


def imposed_error_K(pool: Pool, request: Request, record: Floats) -> float:
    """Return the largest difference of the water at the screen over all samples of all shots."""
    drawing = record[:, at.R_MODE] == at.MODE_SHOT
    if not drawing.any():
        return float("nan")
    course = Reference(pool, request).imposed(record)
    screen = pool.net.roles[at.N_SCREEN]
    return float(np.max(np.abs(record[drawing, at.NR + screen] - course.T[drawing, screen])))


def compare(architecture: str, index: int) -> Compared:
    """Run random design `index` in both solvers."""
    return compare_design(random_machine(architecture, index), index)


def compare_design(design: Design, index: int = 0) -> Compared:
    """Run a design in both solvers, imposed and free."""
    pool = pool_of(design)
    request = nominal_request(pool)
    ran = pool.run([request], record=True)
    stiff = Watched(pool, request)
    course = stiff.free()
    out, shots = ran.out[0], ran.shots[0]
    late, shot_K = free_differences(out, shots, course)
    return Compared(
        architecture=str(design["architecture"]),
        index=index,
        imposed_K=imposed_error_K(pool, request, ran.record),
        late=late,
        shot_K=shot_K,
        ends_alike=bool(out[at.O_CODE] == course.out[at.O_CODE] and out[at.O_CODE] in (DONE, *REASONS)),
        flipped=first_flip(recorded_changes(ran.record), stiff.changes),
    )


def free_differences(out: Floats, shots: Floats, course: Course) -> tuple[float, float]:
    """Return the relative difference of warm-up (0 within 2 s) and the largest of a shot's mean [K]."""
    here, there = float(out[at.O_READY_S]), float(course.out[at.O_READY_S])
    pulled = (shots[:, at.H_SECONDS] > 0.0) & (course.shots[: len(shots), at.H_SECONDS] > 0.0)
    late = 0.0 if abs(here - there) <= WARM_UP_S else abs(here - there) / max(min(here, there), WARM_UP_S)
    if not pulled.any():
        return late, float("nan")
    means = shots[pulled, at.H_MEAN] - course.shots[: len(shots)][pulled, at.H_MEAN]
    return late, float(np.max(np.abs(means)))


def stiff_group(found: Iterable[Compared]) -> Group:
    """Return the checks of all architectures, those imposed and those free."""
    group = Group("stiff solver")
    families: dict[str, list[Compared]] = {}
    for one in found:
        families.setdefault(one.architecture, []).append(one)
    for name, designs in families.items():
        count = len(designs)
        shot = [one.imposed_K for one in designs if not np.isnan(one.imposed_K)]
        largest = Value(
            f"{name}, {len(shot)} designs: largest of any sample", 0.0, max(shot, default=np.nan), "K"
        )
        every = Allowed(absolute=SHOT_K, why="every sample of every shot")
        group.add([largest], source="LSODA, events and powers imposed", allowed=every, kind=Kind.PROOF)
        share = Value(
            f"{name}, {count} designs: share that agrees", 1.0, sum(one.agrees for one in designs) / count
        )
        most = Allowed(
            absolute=max(1.0 - MOST, 1.0 / count) + 1e-12, why="95 %, or all but one", at_least=True
        )
        group.add([share], source="LSODA with its own controller", allowed=most, kind=Kind.PROOF)
        typical = Value(
            f"{name}, {count} designs: median of the worst shot",
            0.0,
            float(np.nanmedian([one.shot_K for one in designs])) if shot else np.nan,
            "K",
        )
        tenth = Allowed(absolute=0.1 * SHOT_K, why="a tenth of what the worst may be")
        group.add([typical], source="LSODA with its own controller", allowed=tenth, kind=Kind.SHOWN)
    return group


def exceptions(found: Iterable[Compared]) -> list[str]:
    """Return a line for each design in which the free solvers disagree, with the event that flipped."""
    return [
        f"{one.architecture} {one.index}: warm-up differs by {100.0 * one.late:.2f} %, a shot by {one.shot_K:.3f} K"
        + ("" if one.ends_alike else ", the ends differ")
        + f"; first event that differs: {one.flipped or 'none'}"
        for one in found
        if not one.agrees
    ]
