"""What circulates by buoyancy, steam out of a block, and the water that a vented vessel has lost."""

from __future__ import annotations

from itertools import pairwise
from math import pi

import numpy as np
import pytest
from fluids.friction import friction_laminar
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS97
from scipy.optimize import brentq

from boilerfront.model.kernel.circulation import drive_Pa, driven_kg_s
from boilerfront.model.kernel.swing import expelled_J


@pytest.mark.parametrize(("hot_C", "cold_C"), [(110.0, 80.0), (95.0, 90.0), (120.0, 40.0)])
def test_the_loop_flows_as_friction_and_buoyancy_balance(hot_C: float, cold_C: float) -> None:
    """Density and viscosity of IAPWS-IF97 at 3 bar (package iapws), laminar friction of package fluids."""
    bore, length, height, fittings = 0.006, 1.2, 0.15, 8.0
    hot, cold, mean = (IAPWS97(T=t + 273.15, P=0.3) for t in (hot_C, cold_C, 0.5 * (hot_C + cold_C)))
    area = pi / 4.0 * bore**2

    def left_Pa(flow_kg_s: float) -> float:
        speed = flow_kg_s / (mean.rho * area)
        friction = friction_laminar(mean.rho * speed * bore / mean.mu)
        head = 0.5 * mean.rho * speed**2
        left: float = 9.80665 * height * (cold.rho - hot.rho) - (friction * length / bore + fittings) * head
        return left

    expected = brentq(left_Pa, 1e-7, 1.0)
    drive = drive_Pa(hot_C, cold_C, height)
    found = driven_kg_s(
        drive, 0.5 * (hot_C + cold_C), 128.0 * length / (pi * bore**4), fittings / (2.0 * area**2)
    )
    assert found == pytest.approx(expected, rel=0.01)  # fits of density (0.1 %) on a small difference


@given(hot=st.floats(20, 140), cold=st.floats(20, 140), height=st.floats(0.01, 0.5))
def test_nothing_flows_backwards_and_more_height_drives_more(hot: float, cold: float, height: float) -> None:
    mean = 0.5 * (hot + cold)
    flow = driven_kg_s(drive_Pa(hot, cold, height), mean, 1e11, 1e9)
    assert flow >= 0.0
    assert driven_kg_s(drive_Pa(hot, cold, 2.0 * height), mean, 1e11, 1e9) >= flow
    if hot <= cold:
        assert flow == 0.0


def test_a_vessel_loses_the_enthalpy_of_what_expands() -> None:
    """By IAPWS-IF97 at saturation (package iapws): sum of lost mass times enthalpy from 95 to 122 °C."""
    temperatures = np.linspace(95.0, 122.0, 200)
    water = [IAPWS97(T=t + 273.15, x=0) for t in temperatures]
    lost = sum((a.rho - b.rho) * 0.5e3 * (a.h + b.h) for a, b in pairwise(water))
    assert expelled_J(1e-3, 95.0, 122.0) == pytest.approx(1e-3 * lost, rel=0.02)
