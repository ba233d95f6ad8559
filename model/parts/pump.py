"""The pump: what pressure it holds at a flow."""

from __future__ import annotations

import numpy as np

from boilerfront.model.machine import Pump


def pump_pressure_bar(flow_mL_s: float, pump: Pump) -> float:
    """Return the pressure [bar gauge] at a flow; past free flow the last slope goes on below zero.

    Negative pressure says how far from possible the flow is: a margin needs a slope to climb.
    """
    flows, pressures = np.array(pump.curve).T
    if flow_mL_s > flows[-1]:
        slope = (pressures[-1] - pressures[-2]) / (flows[-1] - flows[-2])
        return float(pressures[-1] + slope * (flow_mL_s - flows[-1]))
    return float(np.interp(flow_mL_s, flows, pressures))
