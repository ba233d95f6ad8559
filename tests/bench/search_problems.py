"""Public test problems with the hypervolume of their true fronts, and how a set of rows is scored on them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import moocore
import numpy as np
from numpy.typing import NDArray
from pymoo.problems import get_problem

from boilerfront.search import Float, Space

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Problem:
    """A problem of pymoo; its front's range is `ideal` to `nadir`, its scaled hypervolume `exact`.

    Objectives are scaled to that range; the reference point is 1.1 in each.
    """

    name: str
    ideal: tuple[float, ...]
    nadir: tuple[float, ...]
    exact: float
    options: Mapping[str, int] = field(default_factory=dict)

    @cached_property
    def pymoo(self) -> Any:
        """Return pymoo's own object, which evaluates rows."""
        return get_problem(self.name, **self.options)

    @property
    def bounds(self) -> tuple[Floats, Floats]:
        """Return the ends of each variable's range."""
        return np.asarray(self.pymoo.xl, np.float64), np.asarray(self.pymoo.xu, np.float64)

    @cached_property
    def space(self) -> Space:
        """Return one float a variable, as a study asks for them."""
        return Space(
            {f"x{i}": Float(float(a), float(b)) for i, (a, b) in enumerate(zip(*self.bounds, strict=True))}
        )

    def designs(self, params: Sequence[Mapping[str, Any]]) -> Floats:
        """Return what a study chose as rows for `evaluate`."""
        return np.array([[row[name] for name in self.space.names] for row in params])

    def evaluate(self, designs: Floats) -> tuple[Floats, Floats]:
        """Return objectives (n, m) and constraints (n, c), which hold when <= 0."""
        with np.errstate(invalid="ignore", divide="ignore"):  # at ends of its box MW6 has no second objective
            out = self.pymoo.evaluate(designs, return_as_dictionary=True)
        constraints = np.asarray(out["G"] if out.get("G") is not None else np.zeros((len(designs), 0)))
        return np.asarray(out["F"]), constraints.reshape(len(designs), -1)

    def share(self, objectives: Floats, constraints: Floats) -> float:
        """Return the hypervolume of all feasible rows as a share of the true front's."""
        feasible = (constraints <= 0.0).all(axis=1)
        low, high = np.array(self.ideal), np.array(self.nadir)
        points = ((objectives - low) / (high - low))[feasible]
        reference = np.full(len(low), 1.1)
        points = points[(points < reference).all(axis=1)]
        return float(moocore.hypervolume(points, ref=reference)) / self.exact if len(points) else 0.0


def osy_front(count: int = 4001) -> Floats:
    """Return points on the five segments of OSY's front.

    A. Osyczka, S. Kundu, Struct. Optim. 10 (1995); segments as in K. Deb, 'Multi-Objective Optimization
    using Evolutionary Algorithms', Wiley (2001); x4 = x6 = 0 throughout.
    """
    t = np.linspace(0.0, 1.0, count)
    one, none = np.ones_like(t), np.zeros_like(t)
    x1 = 4.056 + 0.944 * t
    segments = [
        (5 * one, one, 1 + 4 * t, none, 5 * one, none),
        (5 * one, one, 1 + 4 * t, none, one, none),
        (x1, (x1 - 2.0) / 3.0, one, none, one, none),
        (none, 2 * one, 1 + 2.732 * t, none, one, none),
        (t, 2.0 - t, one, none, one, none),
    ]
    designs = np.vstack([np.column_stack(segment) for segment in segments])
    return np.asarray(get_problem("osy").evaluate(designs, return_as_dictionary=True)["F"])


def _osy() -> Problem:
    ideal, nadir = (-274.0, 4.0), (-42.0, 76.0)
    points = (osy_front() - ideal) / (np.array(nadir) - ideal)
    return Problem("osy", ideal, nadir, float(moocore.hypervolume(points, ref=[1.1, 1.1])))


def mw6_front(count: int = 4001) -> Floats:
    """Return points on MW6's front: the arc of radius 1.1 where its constraint holds.

    MW6, MW10: Z. Ma, Y. Wang, IEEE Trans. Evol. Comput. 23 (2019), 972-986.
    """
    angle = np.linspace(0.0, np.pi / 2, count)
    points = 1.1 * np.column_stack([np.cos(angle), np.sin(angle)])
    bump = np.cos(6.0 * angle**4) ** 10
    inside = (points[:, 0] / (1.0 + 0.15 * bump)) ** 2 + (points[:, 1] / (1.0 + 0.75 * bump)) ** 2
    return np.asarray(points[inside <= 1.0])


def mw10_front(count: int = 1001) -> Floats:
    """Return the best of a grid over MW10's strip 1 <= f2 / (1 - f1**2) <= 1.2 where all constraints hold."""
    f1, height = (axis.ravel() for axis in np.meshgrid(np.linspace(0, 1, count), np.linspace(1, 1.2, count)))
    square = f1**2
    f2 = height * (1 - square)
    holds = (2 - 4 * square - f2) * (2 - 8 * square - f2) >= 0
    holds &= (2 - 2 * square - f2) * (2 - 16 * square - f2) <= 0
    points = np.column_stack([f1, f2])[holds]
    return np.asarray(points[moocore.is_nondominated(points)])


def _by_front(name: str, points: Floats) -> Problem:
    ideal, nadir = points.min(axis=0), points.max(axis=0)
    exact = float(moocore.hypervolume((points - ideal) / (nadir - ideal), ref=[1.1, 1.1]))
    return Problem(name, tuple(ideal.tolist()), tuple(nadir.tolist()), exact)


def problems() -> dict[str, Problem]:
    """Return the problems by name.

    Exact hypervolumes: with r = 1.1, ZDT1 and ZDT4 (f2 = 1 - sqrt f1) r**2 - 1/3; ZDT6 (f2 = 1 - f1**2 from
    f1 = 0.2807753) by integration; DTLZ2 r**3 - pi/6; DTLZ1 (1.1**3 * 0.125 - 0.5**3/6) / 0.125; BNH by
    integration of its two segments; C2-DTLZ2 by meshing its patches (0.72965, to 5e-5); OSY, MW6 and MW10 by
    points on their fronts.
    """
    unit2, unit3 = ((0.0, 0.0), (1.0, 1.0)), ((0.0,) * 3, (1.0,) * 3)
    sqrt_front = 1.21 - 1.0 / 3.0
    listed = [
        Problem("zdt1", *unit2, sqrt_front, {"n_var": 15}),
        Problem("zdt4", *unit2, sqrt_front),
        Problem("dtlz1", (0.0,) * 3, (0.5,) * 3, 1.331 - 1.0 / 6.0, {"n_var": 7, "n_obj": 3}),
        Problem("dtlz2", *unit3, 1.331 - np.pi / 6.0, {"n_var": 12, "n_obj": 3}),
        Problem("c2dtlz2", *unit3, 0.72965, {"n_var": 12, "n_obj": 3}),
        Problem(
            "bnh", (0.0, 4.0), (136.0, 50.0), (15304.0 / 3.0 + 13.6 * 50.6 + 136.0 * 4.6) / (136.0 * 46.0)
        ),
        _osy(),
        _by_front("mw6", mw6_front()),
        _by_front("mw10", mw10_front()),
    ]
    return {problem.name: problem for problem in listed}


UNTOUCHED: dict[str, dict[str, int]] = {
    "zdt2": {},
    "dtlz4": {"n_var": 12, "n_obj": 3},
    "dtlz5": {"n_var": 12, "n_obj": 3},
    "dtlz7": {"n_var": 12, "n_obj": 3},
    "wfg9": {"n_var": 10, "n_obj": 3, "k": 4},
    "kursawe": {},
    "tnk": {},
    "srn": {},
    "ctp1": {},
    "c3dtlz4": {"n_var": 7, "n_obj": 3},
    "mw2": {},
    "mw3": {},
    "mw7": {},
}
"""Problems on which no number of the search may be chosen: those are chosen on `problems()`. From TNK on they
are constrained; of 20,000 random designs none is feasible on MW2, MW3 and MW7, 1 in 100 on C3-DTLZ4."""
MULTIMODAL = ("wfg9", "kursawe", "mw2")
"""Those with many local fronts: MW2's distance function, like Rastrigin's, in 14 variables, WFG9's deceptive ones,
Kursawe's sines. Chance weighs more there, so that they take more seeds."""


def untouched() -> dict[str, Problem]:
    """Return the problems for judging only; their exact fronts are not known here, only their objectives."""
    counts = {name: get_problem(name, **options).n_obj for name, options in UNTOUCHED.items()}
    return {
        name: Problem(name, (0.0,) * count, (1.0,) * count, np.nan, UNTOUCHED[name])
        for name, count in counts.items()
    }
