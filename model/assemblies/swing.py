"""What a machine brings along that swings between brewing and steaming with the same heater."""

from __future__ import annotations

from boilerfront.model.assemblies.assembly import Assembly
from boilerfront.model.kernel import layout as at


def add_swing(a: Assembly, *, steam_set_C: float) -> None:
    """Let the brew circuit also steam: it swings up for it, and flushes itself cool afterwards."""
    a.parameters |= {
        at.P_SWINGS: 1.0,
        at.P_STEAM_KEPT: 0.0,
        at.P_STEAM_SET_C: steam_set_C,
        at.P_STEAM_LAG_S: a.machine.control.brew_lag_s,  # one sensor reads both
        at.P_FLUSH_M3: 1e-6 * a.machine.swing.flush_mL,
    }


def add_vented_vessel(a: Assembly, volume_m3: float) -> None:
    """Let a full vessel be vented for steam and refilled afterwards."""
    a.parameters |= {
        at.P_SWING_M3: volume_m3,
        at.P_SWING_LEVEL: a.machine.swing.vented_level,
        at.P_VENT_KG_S: 1e-3 * a.machine.swing.vent_mL_s,
    }
    a.buy("valve", 1.0, of="brew")
