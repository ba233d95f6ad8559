"""Part data that a design shares with its family: every number is our judgement unless a source is named.

All of it stands in the sweep file and can be overridden there.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from boilerfront.shared.schema import Section

Positive = Annotated[float, Field(gt=0)]
Share = Annotated[float, Field(gt=0, lt=1)]


Stress = Annotated[float, Field(ge=20, le=300)]
Joint = Annotated[float, Field(ge=0.4, le=1)]
Sheet = Annotated[float, Field(ge=0.5, le=6)]


class Metal(Section):
    """What a vessel's metal bears near 150 °C [MPa], which part of it seams are trusted with, how thin it is made."""

    stress_MPa: Stress
    joint: Joint
    minimum_wall_mm: Sheet


class Stainless(Metal):
    """304L sheet, welded."""

    stress_MPa: Stress = 115.0
    """ASME II-D, from memory."""
    joint: Joint = 0.7
    """Welded from one side or both, not radiographed: ASME VIII-1 UW-12, from memory."""
    minimum_wall_mm: Sheet = 0.8
    """No workshop welds thinner sheet."""


class Copper(Metal):
    """Phosphorus-deoxidised copper sheet, brazed."""

    stress_MPa: Stress = 33.0
    """C12200 annealed, as brazing leaves it: ASME II-D, 4.9 to 4.7 ksi from 95 to 150 °C, from memory."""
    joint: Joint = 0.7
    """Our judgement between 0.5 for a seam seen from one side and 1.0 from both: ASME VIII-1 UB-14, from memory."""
    minimum_wall_mm: Sheet = 0.8


class LeadFreeBrass(Metal):
    """Silicon brass Cu76Zn21Si3, cast."""

    stress_MPa: Stress = 100.0
    """A quarter of its strength of some 430 MPa (data sheets, from memory)."""
    joint: Joint = 0.8
    """Quality factor of castings: ASME VIII-1 UG-24, from memory."""
    minimum_wall_mm: Sheet = 2.5
    """As thin as such castings are poured."""


class Vessels(Section):
    """Shape, walls and insulation of both boilers."""

    brew_height_to_diameter: Annotated[float, Field(ge=0.5, le=4)] = 1.6
    steam_height_to_diameter: Annotated[float, Field(ge=0.5, le=4)] = 1.5
    ends: Literal["dished", "flat"] = "dished"
    """2:1 elliptical ends of the shell's sheet, or flat plates."""
    wall_mm: Annotated[float | None, Field(ge=0.3, le=10)] = None
    """Wall of the shells [mm]; by default what the pressure needs. Never under the metal's minimum."""
    stainless: Stainless = Stainless()
    copper: Copper = Copper()
    lead_free_brass: LeadFreeBrass = LeadFreeBrass()
    brew_valve_bar: Annotated[float, Field(ge=3, le=20)] = 12.0
    steam_valve_bar: Annotated[float, Field(ge=0.5, le=6)] = 2.0
    """Opening pressures of the safety valves [bar gauge]."""
    insulation_conductivity_W_mK: Annotated[float, Field(ge=0.02, le=0.2)] = 0.038
    outside_W_m2K: Annotated[float, Field(ge=3, le=30)] = 9.0
    fittings_W_K: Annotated[float, Field(ge=0, le=2)] = 0.08
    """Loss of the fittings of each vessel [W/K]."""
    brew_wall_W_m2K: Annotated[float, Field(ge=100, le=5000)] = 600.0
    """Brew water to wall: free convection, Churchill and Chu 1975 at 2 K."""
    steam_wall_W_m2K: Annotated[float, Field(ge=100, le=20000)] = 2500.0

    def metal(self, material: str) -> Metal:
        """Return the strength of a vessel's material by the name that designs give it."""
        metals: dict[str, Metal] = {
            "stainless": self.stainless,
            "copper": self.copper,
            "lead_free_brass": self.lead_free_brass,
        }
        return metals[material]


class BrewWater(Section):
    """Layers of the brew boiler and how they exchange. The number of layers is a choice of accuracy."""

    layers: Literal[4] = 4
    conductivity_W_mK: Positive = 0.66
    jet: tuple[float, float, float] = (1.5, 0.7, 0.2)
    """Exchange by the inlet jet between neighbouring layers, upwards, in parts of flow times heat capacity."""
    overturning_W_m2K2: Positive = 9e4
    idle_line_bar: Annotated[float, Field(ge=1.0, le=15)] = 3.0
    """Absolute pressure of the brew line while no shot runs [bar]."""


class SteamVessel(Section):
    """Level control of the steam boiler."""

    level_low: Share = 0.60
    level_high: Share = 0.63
    """Refill band, liquid volume over vessel volume."""
    refill_mL_s: Annotated[float, Field(gt=0, le=10)] = 4.0
    dryness: Annotated[float, Field(ge=0.8, le=1)] = 0.97


class Elements(Section):
    """Sheathed immersion heaters."""

    sheath_mm: Annotated[float, Field(ge=5, le=12)] = 8.0
    heat_capacity_J_m2K: Positive = 6000.0
    load_W_cm2: Annotated[float, Field(ge=2, le=30)] = 7.0
    """Surface load aimed at, where the length that fits allows it [W/cm²]."""
    steam_top_share: Share = 0.35
    """Top of the steam boiler's element, part of the vessel's height."""
    window_s: Annotated[float, Field(ge=0.2, le=5)] = 1.0
    window_above_900_W_s: Annotated[float, Field(ge=0.2, le=5)] = 2.0
    """Firing windows up to 900 W and above [s]."""


class Coil(Section):
    """Preheat coil in the steam boiler."""

    wall_mm: Annotated[float, Field(ge=0.3, le=2)] = 0.5
    copper_wall_mm: Annotated[float, Field(ge=0.3, le=2)] = 1.0
    """Walls of stainless and of copper tube; 6 x 1, 8 x 1 and 10 x 1 mm copper are sizes of EN 1057 (from memory)."""
    header_mm: Annotated[float, Field(ge=0, le=300)] = 60.0
    """Length of each of the two headers inside the vessel [mm]; they count where they are wet."""
    pitch_to_outer: Annotated[float, Field(ge=1.5, le=5)] = 1.5
    """Pitch of the helix over the tube's outside diameter; 1.5 is the closest."""

    def tube_wall_mm(self, material: str) -> float:
        """Return the wall of the tube that a coil of the material is bent of."""
        return self.copper_wall_mm if material == "copper" else self.wall_mm


class Group(Section):
    """Group head, its water passage and the portafilter."""

    mass_kg: Positive = 2.4
    heat_capacity_J_kgK: Positive = 380.0
    area_m2: Positive = 0.045
    emissivity: Annotated[float, Field(gt=0, le=1)] = 0.30
    diameter_mm: Positive = 60.0
    """Size that sets the free convection from group and portafilter [mm]."""
    bore_mm: Positive = 8.0
    length_m: Positive = 0.25
    area_factor: Positive = 1.6
    """Area of the passage over that of a straight bore."""
    bolted_W_K: Positive = 2.5
    saturated_W_K: Positive = 8.0
    portafilter_kg: Positive = 0.55
    portafilter_W_K: Positive = 1.1
    portafilter_area_m2: Positive = 0.022
    offset_K: Annotated[float, Field(ge=-10, le=10)] = 0.0
    """Set-point of a heated group less the user's set-point [K]."""


class Pump(Section):
    """What the pump can deliver: a check of the duty's flows, which are given and not its result."""

    kind: Literal["vibration", "rotary"] = "vibration"
    """Which item of the price book it is; `curve` and `control.pump_W` belong to it."""
    curve: tuple[tuple[float, float], ...] = (
        (0.0, 15.0),
        (1.7, 12.0),
        (4.0, 9.0),
        (6.3, 6.0),
        (8.5, 3.0),
        (10.8, 0.0),
    )
    """Flow [mL/s] and pressure [bar gauge] at nominal mains, from shut-off to free flow; straight between."""
    brew_bar: Annotated[float, Field(ge=0, le=15)] = 9.0
    """Pressure on the puck at the steady flows [bar gauge]: common practice, gauge by custom."""

    @model_validator(mode="after")
    def _falls(self) -> Self:
        flows = [flow for flow, _ in self.curve]
        pressures = [bar for _, bar in self.curve]
        rises = len(flows) >= 2 and flows[0] == 0.0 and all(a < b for a, b in pairwise(flows))
        falls = all(a > b for a, b in pairwise(pressures)) and pressures[-1:] >= [0.0]
        if not (rises and falls):
            raise ValueError(
                "curve needs two points or more, from flow 0 with flow rising and pressure falling"
            )
        return self


class Block(Section):
    """A thermoblock: metal cast over its element and its water channel."""

    bore_mm: Annotated[float, Field(ge=2, le=10)] = 4.0
    """Inside diameter of the water channel [mm]."""
    bend_mm: Annotated[float, Field(ge=20, le=120)] = 45.0
    """Mean diameter of the channel's bends [mm]."""
    element_W_m2K: Positive = 9000.0
    """Sheath to the metal cast around it [W/m²K]."""
    steam_set_point_C: Annotated[float, Field(ge=130, le=180)] = 165.0
    boiling_W_m2K: Positive = 6000.0
    """Boiling inside the channel, taken over its whole wall [W/m²K]."""
    steam_dose_mL_s: Annotated[float, Field(gt=0, le=4)] = 1.0
    """The most that the pump doses for steam [mL/s]."""
    steam_dryness: Annotated[float, Field(ge=0.5, le=1)] = 0.95


class Swing(Section):
    """How a machine comes from brewing to steaming and back, and what it flushes before a shot."""

    flush_mL: Annotated[float, Field(gt=0, le=200)] = 200.0
    """The most that one flush takes [mL]."""
    flush_pause_s: Annotated[int, Field(ge=0, le=30)] = 15
    """From the end of a flush to the shot [s]: the portafilter is locked in, and the tube warms up again."""
    vented_level: Annotated[float, Field(ge=0.5, le=0.98)] = 0.85
    """Liquid part of a vessel that was full, once the wand has vented it for steam."""
    vent_mL_s: Annotated[float, Field(gt=0, le=30)] = 10.0


class Circulation(Section):
    """The pipes between a heat exchanger and its group, through which water circulates by buoyancy."""

    height_m: Annotated[float, Field(ge=0, le=0.5)] = 0.15
    """Height between the middles of exchanger and group [m]."""
    pipe_m: Annotated[float, Field(gt=0, le=1)] = 0.30
    """Length of each of the two pipes [m]."""
    bore_mm: Annotated[float, Field(ge=3, le=15)] = 8.0
    fittings: Annotated[float, Field(ge=0, le=50)] = 6.0
    """Sum of the loss coefficients of bends and ports, for the pipe's velocity."""
    loss_W_K: Annotated[float, Field(ge=0, le=2)] = 0.10
    """Loss of each pipe to the casing [W/K]."""
    flange_W_K: Annotated[float, Field(ge=0, le=10)] = 0.30
    """Conduction from the pipe to the group beside what circulates [W/K]."""
    range_K: Annotated[float, Field(ge=0, le=10)] = 3.0
    """How far from the default the user may set a heat exchanger [K]: its boiler has to follow."""


class Casing(Section):
    """The air inside the casing, and what fits into it."""

    heat_capacity_J_K: Positive = 1224.0
    to_room_W_K: Positive = 2.8
    width_mm: Positive = 280.0
    depth_mm: Positive = 330.0
    height_mm: Positive = 380.0


class Wand(Section):
    """Steam wand: holes, discharge and pressure loss of the pipe."""

    holes: Annotated[int, Field(ge=1, le=8)] = 3
    hole_mm: Annotated[float, Field(ge=0.5, le=3)] = 1.2
    discharge: Annotated[float, Field(gt=0, le=1)] = 0.78
    pressure_loss: Annotated[float, Field(ge=0, le=0.5)] = 0.10


class Control(Section):
    """Sensors, sampling and the electrical rest of the machine."""

    brew_lag_s: Positive = 4.0
    steam_lag_s: Positive = 3.0
    group_lag_s: Positive = 8.0
    tracking_to_reset: Annotated[float, Field(gt=0, le=4)] = 0.5
    """Tracking time of the anti-windup over the reset time; below 1 the output leaves full power earlier."""
    resolution_K: Annotated[float, Field(ge=0, le=1)] = 0.05
    """Step of the sensors' readings [K]; enters the deviation by its rms."""
    pump_W: Annotated[float, Field(ge=0, le=200)] = 50.0
    electronics_W: Annotated[float, Field(ge=0, le=50)] = 2.0
    off_W: Annotated[float, Field(ge=0, le=5)] = 0.5
    """Power when switched off [W]; `limits.off_W` says what is allowed."""
    hold_s: Annotated[float, Field(ge=0, le=7200)] = 1800.0
    """Time from the last shot to auto-off [s]; `limits.auto_off_s` says what is allowed."""


class Machine(Section):
    """All part data."""

    vessels: Vessels = Vessels()
    brew_water: BrewWater = BrewWater()
    steam_vessel: SteamVessel = SteamVessel()
    elements: Elements = Elements()
    coil: Coil = Coil()
    group: Group = Group()
    pump: Pump = Pump()
    block: Block = Block()
    swing: Swing = Swing()
    circulation: Circulation = Circulation()
    casing: Casing = Casing()
    wand: Wand = Wand()
    control: Control = Control()
