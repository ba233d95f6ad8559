"""Looks for steps in functions of one number: an optimiser falls into every one of them."""

from collections.abc import Callable

import numpy as np

Law = Callable[[float], float]

SUSPECTS = 25
HALVINGS = 200


def largest_step(law: Law, *, low: float, high: float, points: int = 800) -> float:
    """Largest jump of `law` between neighbouring floats that halving finds, over the largest value of `law`.

    The intervals whose change stands out most from their neighbours' are halved, each time into the half that
    changes more. Where the law is continuous the change dies away, however steep the law; at a step it stays.
    """
    grid = np.linspace(low, high, points)
    values = np.array([law(float(x)) for x in grid])
    assert np.all(np.isfinite(values))
    change = np.diff(values)
    around = np.concatenate([change[:1], (change[:-2] + change[2:]) / 2.0, change[-1:]])
    suspects = set(np.argsort(np.abs(change - around))[-SUSPECTS:]) | {0, len(change) - 1}
    steps = [_step_inside(law, float(grid[i]), float(grid[i + 1])) for i in suspects]
    return max(steps) / float(np.max(np.abs(values)))


def _step_inside(law: Law, low: float, high: float) -> float:
    at_low, at_high = law(low), law(high)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        at_middle = law(middle)
        if abs(at_middle - at_low) > abs(at_high - at_middle):
            high, at_high = middle, at_middle
        else:
            low, at_low = middle, at_middle
    return abs(at_high - at_low)


def assert_continuous(law: Law, *, low: float, high: float, points: int = 800) -> None:
    """The law is finite and has no step on [low, high]."""
    assert largest_step(law, low=low, high=high, points=points) < 1e-9


def assert_rising(law: Law, *, low: float, high: float, points: int = 800) -> None:
    """The law is finite, positive and never falls on [low, high]."""
    values = np.array([law(float(x)) for x in np.linspace(low, high, points)])
    assert np.all(np.isfinite(values))
    assert np.all(values >= 0.0)
    assert np.all(np.diff(values) >= -1e-12 * np.max(values))
