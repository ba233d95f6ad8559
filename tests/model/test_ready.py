"""Two ready figures, with steam and without, and the choice of which the objective is."""

from __future__ import annotations

import pytest

from boilerfront.model import ARCHITECTURES, evaluate_many
from boilerfront.model.duty import Duty, Event
from boilerfront.model.site import WarmUp
from tests.model.random_designs import NOMINAL, number, random_designs

CALM = NOMINAL.model_copy(update={"duty": Duty(events=(Event(at_s=1500), Event(after_s=1200)))})
"""Nothing is drawn until steam is long ready, whichever readiness counts."""
BREW = {"warm_up": WarmUp(counts="brew")}


@pytest.mark.parametrize("architecture", list(ARCHITECTURES))
def test_the_objective_is_the_one_that_counts(architecture: str) -> None:
    designs = random_designs(20, 97, architecture=architecture)
    for row in evaluate_many(designs, NOMINAL):
        if row["reason"] is None:
            assert row["warm_up_s_nominal"] == row["all_ready_s"]
            assert number(row, "brew_ready_s") <= number(row, "all_ready_s")
    for row in evaluate_many(designs, NOMINAL.model_copy(update=BREW)):
        if row["reason"] is None:
            assert row["warm_up_s_nominal"] == row["brew_ready_s"]
            assert number(row, "brew_ready_s") <= number(row, "all_ready_s")


@pytest.mark.parametrize("architecture", list(ARCHITECTURES))
def test_both_figures_are_there_whichever_counts(architecture: str) -> None:
    """Each is trimmed for itself, so that their set-points differ by less than the trim's 0.02 K.

    A machine that counts as ready before its steam may refill its steam boiler then, which steam waits for.
    """
    designs = random_designs(20, 98, architecture=architecture)
    pairs = [
        (everything, brew)
        for everything, brew in zip(
            evaluate_many(designs, CALM), evaluate_many(designs, CALM.model_copy(update=BREW)), strict=True
        )
        if everything["reason"] is None and brew["reason"] is None
    ]
    later = [number(brew, "all_ready_s") - number(everything, "all_ready_s") for everything, brew in pairs]
    for everything, brew in pairs:
        assert brew["brew_ready_s"] == pytest.approx(number(everything, "brew_ready_s"), abs=0.5)
    assert min(later) > -0.5
    assert sum(wait_s < 0.5 for wait_s in later) >= 0.9 * len(later)
