"""Names and places of every number inside the kernel: the only file that counts.

Arrays are [index, lane]: several machines are marched side by side so that the compiler can use the processor's
vector registers. What code for all lanes reads lies lane by lane in memory; what code for one lane reads, S and P,
lies field by field, so that a lane's numbers are neighbours; those of every step and second come first.
Temperatures in °C, all else SI.
"""

from __future__ import annotations

LANES = 32
"""Machines marched side by side."""

GAMMA = 0.2928932188134524
"""1 - 1/sqrt(2): makes the two-stage implicit step second order and L-stable."""

# Film laws: a grid along x (temperature or root of the flow), along y a polynomial in the temperature, the
# superheat (both scaled to about 1) or the fourth root of the difference.
NX = 25
COEFFICIENTS = 6
T_TOP_C = 160.0
FLOW_TOP_KG_S = 0.012
DIFFERENCE_TOP_K = 168.0
SUPERHEAT_TOP_K = 48.0
PER_T = 0.01
PER_SUPERHEAT = 0.025
LEAST_DIFFERENCE_K = 0.05
LEAST_ROOT: float = LEAST_DIFFERENCE_K**0.25
"""Films are rated at no less than this: condensation grows without bound towards 0 K."""

# ------------------------------------------------------------------ parameters of a run: P[name]
(
    P_LOOP_HEIGHT_M,
    P_STEAM_M3,
    P_SWING_M3,
    P_BLOCK_W_K,
    P_SWINGS,
    P_PORTAFILTER_COLD,
    P_STEAM_KEPT,
    P_SETTLED,
    P_BREW_LAG_S,
    P_GROUP_LAG_S,
    P_STEAM_LAG_S,
    P_BREW_SET_C,
    P_GROUP_SET_C,
    P_STEAM_SET_C,
    P_BREW_BELOW_K,
    P_BREW_ABOVE_K,
    P_BREW_W,
    P_GROUP_W,
    P_STEAM_W,
    P_PER_BREW_W,
    P_PER_GROUP_W,
    P_PER_STEAM_W,
    P_POWER_FACTOR,
    P_LIMIT_A,
    P_BREW_A,
    P_GROUP_A,
    P_STEAM_A,
    P_BREW_GAIN,
    P_GROUP_GAIN,
    P_STEAM_GAIN,
    P_TRACKING,
    P_ELECTRONICS_W,
    P_BREW_RESETS_A_S,
    P_GROUP_RESETS_A_S,
    P_STEAM_RESETS_A_S,
    P_BREW_FLICKER,
    P_GROUP_FLICKER,
    P_STEAM_FLICKER,
    P_ELECTRONICS_A,
    P_FEED_FORWARD,
    P_LEVEL_LOW,
    P_LEVEL_HIGH,
    P_STEAM_HEIGHT_M,
    P_HELIX_HEIGHT_M,
    P_IMMERSED_FACTOR,
    P_REFILL_KG_S,
    P_FINE,
    P_CALM_S,
    P_ROOM_C,
    P_INLET_C,
    P_AMBIENT_PA,
    P_VOLTAGE_V,
    P_PUMP_W,
    P_GROUP_REACH_C,
    P_USER_C,
    P_INLET_RHO,
    P_FLOW_FACTOR,
    P_FILL_M3_S,
    P_FILL_S,
    P_RAMP_S,
    P_WINDOW_S,
    P_STEAM_START_KG,
    P_WAND_M2,
    P_WAND_LOSS,
    P_DRYNESS,
    P_MILK_J,
    P_MILK_FROM_C,
    P_MILK_TO_C,
    P_PORTAFILTER_OFF_S,
    P_COUNTS_ALL,
    P_WAIT_LIMIT_S,
    P_FINDS_REACH,
    P_SWING_LEVEL,
    P_VENT_KG_S,
    P_DOSE_KG_S,
    P_DOSE_DRYNESS,
    P_FLUSH_M3,
    P_FLUSH_PAUSE_S,
    P_PURGE_M3,
    P_LOOP_FRICTION,
    P_LOOP_FITTINGS,
    P_PUMP_A,
) = range(82)
NP = 82

# ------------------------------------------------------------------ state of a run beside its temperatures: S[name]
(
    S_RUN,
    S_TIME,
    S_SUB,
    S_SUBS,
    S_DT,
    S_PINNED,
    S_STEPS,
    S_MODE,
    S_FLOW0,
    S_FLOW1,
    S_FLOW,
    S_ALL_FLOW,
    S_LOOP,
    S_REFILL,
    S_WAND,
    S_STEAM_KG,
    S_SHARE,
    S_LEVEL,
    S_JOINED,
    S_TWO_PHASE,
    S_BREWING,
    S_BREW_HIGH_C,
    S_COIL_HIGH_C,
    S_OVERSHOOT_K,
    S_BREW_DECAY,
    S_GROUP_DECAY,
    S_STEAM_DECAY,
    S_BREW_Y,
    S_GROUP_Y,
    S_STEAM_Y,
    S_LOSS_J,
    S_PHASE,
    S_BREW_Y0,
    S_GROUP_Y0,
    S_STEAM_Y0,
    S_SPAN,
    S_SPAN_BEFORE,
    S_BREW_SLOPE,
    S_GROUP_SLOPE,
    S_STEAM_SLOPE,
    S_BREW_BEND,
    S_GROUP_BEND,
    S_STEAM_BEND,
    S_BREW_I,
    S_GROUP_I,
    S_STEAM_I,
    S_BREW_SET,
    S_REACH_C,
    S_READY,
    S_EVENT,
    S_SHIFT,
    S_LAST_STOP,
    S_MODE_T0,
    S_OK_BREW_S,
    S_OK_STEAM_S,
    S_RECOVERING,
    S_BREW_P,
    S_GROUP_P,
    S_STEAM_P,
    S_STARVED_BREW,
    S_STARVED_GROUP,
    S_STARVED_STEAM,
    S_MINUTE,
    S_MINUTE_END_S,
    S_PORTAFILTER_BACK,
    S_STEAM_SEEN_C,
    S_STEAM_SEEN_KG,
    S_STEAM_UM,
    S_WANTED,
    S_BUSY_S,
    S_FLUSH_END,
    S_OUTLET_C,
    S_OVERTURN_S,
    S_BREW_IN,
    S_GROUP_IN,
    S_STEAM_IN,
    S_SHOT,
    S_MILK_LEFT,
    S_SECOND_SUM,
    S_WINDOW_N,
    S_WINDOW_SUM,
    S_WINDOW_SUM2,
    S_DIP_FROM,
    S_DIP_LOW,
    S_HOLD_J,
    S_HOLD_S,
    S_WATER_IN_J,
    S_WATER_OUT_J,
    S_OUTLET_HIGH_C,
    S_PHASE_T0,
    S_FLUSH_LEFT,
    S_FLUSH_S,
    S_FLUSH_SEEN_K,
    S_FLUSH_TO_GO_S,
    S_LOOP_DRIVE_PA,
    S_LOOP_DT,
    S_DRY_KG,
    S_WET_KG,
    S_BREW_HELD_W,
    S_SWING_C,
    S_VENTED_AT_C,
    S_SWING_J_K,
    S_SWING_UM,
    S_FINDING,
) = range(104)
S_FLICKER: int = S_FINDING + 1
"""First of so many one-minute sums of flicker time:"""
FLICKER_MINUTES = 10
S_LAYERS: int = S_FLICKER + FLICKER_MINUTES
"""First of those that say how much warmer a layer of the brew vessel is than the one above [K]."""
VESSEL_LAYERS = 4
NS: int = S_LAYERS + VESSEL_LAYERS - 1

# ------------------------------------------------------------------ between code for one lane and for all: V[name]
(
    V_FLOW,
    V_LOOP,
    V_ALL_FLOW,
    V_SHARE,
    V_LEVEL,
    V_JOINED,
    V_TWO_PHASE,
    V_MOVED,
    V_LOSS_W,
    V_LAYER_C,
    V_COIL_C,
    V_FLOW_PLACE,
    V_ALL_FLOW_PLACE,
) = range(13)
NV = 13
"""V_MOVED: how far a film law has gone from the middle of its cell. The next three come back from a step: heat lost
to the room, hottest layer, hottest water in the coil. V_FLOW_PLACE: where on the grid of the laws a flow is."""

# ------------------------------------------------------------------ results of a run: OUT[name]
(
    O_CODE,
    O_SHORTFALL,
    O_END_S,
    O_READY_S,
    O_BREW_READY_S,
    O_BREW_IN_S,
    O_STEAM_IN_S,
    O_ENERGY_J,
    O_HOLD_W,
    O_WAIT_S,
    O_STEAM_TIME_S,
    O_RECOVERY_S,
    O_OVERSHOOT_K,
    O_SLUG_M3,
    O_PEAK_A,
    O_STARVED_S,
    O_LEVEL_LOW,
    O_OUTLET_HIGH_C,
    O_BREW_HIGH_C,
    O_COIL_HIGH_C,
    O_PST_TIME_S,
    O_LOSS_J,
    O_WATER_IN_J,
    O_WATER_OUT_J,
    O_STEAM_OUT_J,
    O_HEATED_J,
    O_STEAM_START_KG,
    O_STEAM_END_KG,
    O_STEAM_START_C,
    O_STEPS,
    O_FLUSH_M3,
    O_SWING_UP_S,
    O_SWING_DOWN_S,
    O_DRYNESS,
    O_LATER_J,
    O_LATER_S,
) = range(36)
NO = 36
"""The last two are not the march's own: energy and end of a session that begins warm (see runs.Pool.live_a_day)."""

# ------------------------------------------------------------------ results of a shot: SHOTS[run, shot, name]
H_MEAN, H_SQUARE, H_SECONDS, H_DIP = range(4)
NH = 4

# ------------------------------------------------------------------ events: EVENTS[event, name]
E_KIND, E_AT_S, E_AFTER_S, E_FLOW_M3_S, E_STOP_S = range(5)
NE = 5
KIND_SHOT, KIND_STEAM = 0.0, 1.0
NEVER = -1.0

MODE_IDLE, MODE_SHOT, MODE_STEAM, MODE_FLUSH = 0.0, 1.0, 2.0, 3.0

BREWING, HEATING_UP, VENTING, STEAMING, REFILLING, COOLING, RETURNING = range(7)
"""What a machine that swings between brewing and steaming is at: S_PHASE."""

# ------------------------------------------------------------------ record of a run: RECORD[row, name], then nodes
(
    R_TIME_S,
    R_MODE,
    R_FLOW_KG_S,
    R_REFILL_KG_S,
    R_WAND_KG_S,
    R_BREW_W,
    R_GROUP_W,
    R_STEAM_W,
    R_BREW_Y,
    R_GROUP_Y,
    R_STEAM_Y,
    R_STEAM_KG,
    R_LEVEL,
    R_DT_S,
    R_JOINED,
    R_SHARE,
    R_PHASE,
    R_TWO_PHASE,
    R_LOOP_KG_S,
) = range(19)
NR = 19

# ------------------------------------------------------------------ roles of nodes, in the order of graph.ROLES
(
    N_BREW_SENSOR,
    N_BREW_OUTLET,
    N_BREW_INLET,
    N_BREW_ELEMENT,
    N_STEAM,
    N_STEAM_ELEMENT,
    N_GROUP,
    N_PORTAFILTER,
    N_SCREEN,
    N_REFILL,
    N_LOOP_HOT,
    N_LOOP_COLD,
) = range(12)
