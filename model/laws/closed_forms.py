"""Closed forms of heat exchange that the running model needs."""

import math

from boilerfront.model.props.compiled import compiled


@compiled
def effectiveness_isothermal(NTU: float) -> float:
    """Effectiveness of a tube in a bath of one temperature, 1 - exp(-NTU).

    Outlet temperature = T_bath - (T_bath - T_inlet) exp(-NTU), with NTU = UA / (m c_p); W. Nusselt (1930),
    W. M. Kays and A. L. London (1955), capacity ratio 0.
    """
    return -math.expm1(-NTU)
