"""A chain of the kernel's cells against the exchanger; the steam vessel against the slopes of its own energy.

Published values stand in the table of `make validate`, tests/validate/published.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.kernel.steam import (
    capacity,
    energy_of_added_mass,
    internal_energy,
    liquid_volume,
    weigh,
)
from boilerfront.model.network.graph import INLET, ROOM, Carry, Network, Store
from boilerfront.model.props.water import (
    density,
    liquid_energy,
    steam_density,
)
from tests.model.small_networks import Small

DRAW_S, IDLE_S = 0.25, 1.0
"""The kernel's own steps in a draw and in idling."""


@pytest.mark.parametrize(
    ("UA_W_K", "flow_g_s", "bath_C", "outlet_C"),
    [  # W. M. Kays and A. L. London: Tb - (Tb - 20) exp(-UA / (m c_p)), c_p 4186 J/kgK
        (12.0, 2.5, 125.0, 91.6426),
        (25.0, 2.5, 125.0, 115.3684),
        (12.0, 10.0, 125.0, 46.1702),
        (6.0, 2.0, 93.0, 57.3487),
    ],
)
def test_a_chain_of_cells_tends_to_the_exchanger(
    UA_W_K: float, flow_g_s: float, bath_C: float, outlet_C: float
) -> None:
    F = flow_g_s * 1e-3 * 4186.0

    def outlet(cells: int) -> float:
        net = Network()
        net.path = [INLET]
        for k in range(cells):
            net.path.append(net.node(f"c{k}", Store.SOLID, 10.0))
            net.link(Carry.FIXED, f"c{k}", ROOM, (UA_W_K / cells,))
        small = Small(net)
        small["T"][:] = bath_C
        small["T"][cells + 1] = 20.0
        small["F"][:] = F
        return float(small.march(1e12, 1)[-1, -1])

    errors = {cells: abs(outlet(cells) - outlet_C) for cells in (12, 24, 96)}
    for cells, error in errors.items():  # each mixed cell passes 1 / (1 + NTU/N): their chain exactly
        chain = bath_C - (bath_C - 20.0) * (1.0 + UA_W_K / F / cells) ** -cells
        assert error == pytest.approx(abs(chain - outlet_C), abs=2e-3)
    assert errors[24] < 0.55 * errors[12]
    assert errors[96] < 0.14 * errors[12]


@given(st.floats(20.0, 140.0), st.floats(0.2, 0.8), st.floats(0.3e-3, 2e-3))
def test_added_mass_and_capacity_are_the_slopes_of_the_energy(t: float, level: float, volume: float) -> None:
    mass = volume * (level * density(t) + (1.0 - level) * steam_density(t))
    dm = 1e-4 * mass
    by_mass = (internal_energy(t, mass + dm, volume) - internal_energy(t, mass - dm, volume)) / (2.0 * dm)
    assert energy_of_added_mass(t) == pytest.approx(by_mass, rel=1e-6, abs=1.0)
    by_T = (internal_energy(t + 0.1, mass, volume) - internal_energy(t - 0.1, mass, volume)) / 0.2
    assert capacity(t, mass, volume) == pytest.approx(by_T, rel=1e-4)
    # the liquid alone is the lower bound: heating it, without evaporation into the vapour space
    liquid = liquid_volume(t, mass, volume) * density(t)
    warmed = liquid_energy(t + 0.5) - liquid_energy(t - 0.5)
    assert capacity(t, mass, volume) > liquid * warmed


@given(st.floats(5.0, 180.0), st.floats(0.0, 1.0), st.floats(0.3e-3, 2e-3))
def test_the_table_says_what_the_functions_say(t: float, level: float, volume: float) -> None:
    mass = volume * (level * density(t) + (1.0 - level) * steam_density(t))
    found = weigh(t, mass, volume)
    assert found[0] == pytest.approx(liquid_volume(t, mass, volume) / volume, rel=1e-5, abs=1e-9)
    assert found[1] == pytest.approx(energy_of_added_mass(t), rel=1e-5)
    assert found[2] == pytest.approx(capacity(t, mass, volume), rel=1e-5)
