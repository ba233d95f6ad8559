"""Several threads of one process may evaluate at once: the bits are those of one after another."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from boilerfront.model import evaluate_many
from tests.model.random_designs import NOMINAL, random_designs

FAMILIES = ("dual_boiler", "dual_boiler_coil", "thermoblock")
EACH = 6


def test_threads_give_the_bits_of_one_after_another() -> None:
    designs = [design for family in FAMILIES for design in random_designs(EACH, 11, architecture=family)]
    alone = [evaluate_many([design], NOMINAL)[0] for design in designs]
    with ThreadPoolExecutor(4) as threads:
        together = list(threads.map(lambda design: evaluate_many([design], NOMINAL)[0], designs))
    assert together == alone
    assert evaluate_many(designs, NOMINAL) == alone
