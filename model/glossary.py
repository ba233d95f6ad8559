"""Every column that a table of ours may have: its name, unit, meaning and the digits it deserves.

One column's meaning is the same in every file, command and page, because all of them read it here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from boilerfront.model.limits import SOURCES

Group = Literal["key", "variable", "objective", "nominal", "figure", "margin", "verdict", "site"]
Type = Literal["float", "int", "bool", "str"]

OBJECTIVES = ("shot_deviation_K", "warm_up_s", "energy_kWh_day", "part_cost")


@dataclass(frozen=True)
class Column:
    """One column: `unit` is empty for pure numbers and texts, `digits` are decimals to print.

    `site` is the one that a column `<name>@<site>` belongs to; columns computed for one are in the group "site".
    """

    name: str
    unit: str
    text: str
    digits: int
    group: Group
    type: Type = "float"
    site: str = ""

    @property
    def source(self) -> str:
        """Return where the limit or rule behind the column comes from; empty where there is none."""
        return SOURCES.get(self.name.partition("@")[0], "")


def _group(group: Group, *rows: tuple[str, str, int, str]) -> list[Column]:
    return [Column(name, unit, text, digits, group) for name, unit, digits, text in rows]


_KEYS = [
    Column("trial", "", "number of the trial, the key of every table", 0, "key", "int"),
    Column("generation", "", "generation in which the trial was planned", 0, "key", "int"),
    Column("architecture", "", "what kind of machine", 0, "variable", "str"),
]

_VARIABLES = [
    *_group(
        "variable",
        ("brew_volume_mL", "mL", 0, "volume of the brew boiler"),
        ("steam_volume_mL", "mL", 0, "volume of the steam boiler"),
        ("brew_power_W", "W", 0, "rated power of the brew boiler's element"),
        ("steam_power_W", "W", 0, "rated power of the steam boiler's element"),
        ("group_power_W", "W", 0, "rated power of the group's heater, 0 for none"),
        ("coil_length_m", "m", 3, "length of the preheat coil's helix"),
        ("coil_bore_mm", "mm", 1, "inside diameter of the coil's tube"),
        ("coil_outer_mm", "mm", 1, "outside diameter of the coil's tube"),
        ("block_mass_kg", "kg", 2, "mass of the thermoblock's metal"),
        ("channel_length_m", "m", 2, "length of the thermoblock's water channel"),
        ("restrictor_mm", "mm", 1, "orifice that slows what circulates between heat exchanger and group"),
        ("insulation_mm", "mm", 1, "thickness of the insulation of the vessels"),
        ("steam_set_point_C", "°C", 1, "set-point of the steam boiler"),
    ),
    Column("coil_material", "", "what the coil's tube is made of: stainless or copper", 0, "variable", "str"),
    Column(
        "control",
        "",
        "control of the brew boiler: pid, or pid_ff with flow feed-forward",
        0,
        "variable",
        "str",
    ),
    Column(
        "group_link", "", "how the group hangs on the brew boiler: bolted or saturated", 0, "variable", "str"
    ),
    Column(
        "material",
        "",
        "what the vessels are made of: stainless, copper or lead_free_brass",
        0,
        "variable",
        "str",
    ),
]

_OBJECTIVES = _group(
    "objective",
    ("shot_deviation_K", "K", 2, "rms of shot water temperature less the user's set-point, over all shots"),
    ("warm_up_s", "s", 0, "time from cold switch-on until everything that counts is in its band"),
    ("energy_kWh_day", "kWh", 3, "electrical energy of a day with one session of the duty"),
    ("part_cost", "currency", 1, "sum of the price book's lines for parts"),
)

_NOMINAL = _group(
    "nominal",
    *((f"{c.name}_nominal", c.unit, c.digits, f"{c.text}; nominal machine") for c in _OBJECTIVES),
)

_FIGURES = _group(
    "figure",
    ("assembly_cost", "currency", 1, "assembly minutes times the labour rate"),
    ("brew_ready_s", "s", 0, "time from cold switch-on until ready, without waiting for steam"),
    ("all_ready_s", "s", 0, "time from cold switch-on until ready, steam included where it is kept hot"),
    ("brew_in_band_s", "s", 0, "first time the brew boiler is in its band"),
    ("steam_in_band_s", "s", 0, "first time the steam boiler is in its band"),
    ("worst_shot_K", "K", 2, "largest mean error of a shot"),
    ("within_shot_K", "K", 2, "rms of the change within shots"),
    ("shot_to_shot_K", "K", 2, "standard deviation of the shots' mean errors"),
    ("first_shot_K", "K", 2, "mean error of the first shot"),
    ("idle_shot_K", "K", 2, "mean error of the shot after 20 minutes of idling"),
    ("fast_shot_K", "K", 2, "mean error of the isolated fast shot"),
    ("slow_shot_K", "K", 2, "mean error of the isolated slow shot"),
    ("climb_K", "K", 2, "mean error of the fourth shot back to back less that of the first of them"),
    ("dip_K", "K", 2, "fall of the brew boiler's sensor in the first nominal shot"),
    ("error_low_K", "K", 2, "mean shot error at the lowest set-point of the range"),
    ("error_high_K", "K", 2, "mean shot error at the highest set-point of the range"),
    ("set_point_bottom_C", "°C", 0, "lowest set-point that the user has"),
    ("set_point_top_C", "°C", 0, "highest set-point that the user has, after the cut by altitude"),
    (
        "set_point_cut_K",
        "K",
        0,
        "how much of the set-point range's top the site's altitude cuts, 0 for nothing",
    ),
    ("trim_offset_K", "K", 2, "boiler set-point less the user's set-point"),
    ("trim_residual_K", "K", 3, "mean shot error left by the trim"),
    ("flush_mL", "mL", 0, "water flushed through the group in the duty, before shots or after steaming"),
    (
        "swing_up_s",
        "s",
        0,
        "longest time from brewing to steaming, of a machine that does both with one heater",
    ),
    ("swing_down_s", "s", 0, "longest time from steaming back to the brew band, refill and flush included"),
    ("trim_runs", "", 0, "runs that the trim took"),
    ("steam_time_s", "s", 1, "time to steam the milk"),
    ("wait_s", "s", 0, "time the duty had to wait for the machine"),
    ("recovery_s", "s", 0, "longest time from pump stop until brew boiler and group are in band again"),
    ("overshoot_K", "K", 2, "largest excess of the brew outlet over its set-point outside draws"),
    ("slug_mL", "mL", 1, "refill above the boiler's set-point in the shot after idling"),
    ("peak_current_A", "A", 2, "largest instantaneous current"),
    ("holding_power_W", "W", 0, "mean electrical power of the last ten minutes of idling"),
    (
        "standby_kWh_day",
        "kWh",
        3,
        "part of energy_kWh_day for holding until auto-off and for being switched off",
    ),
    ("energy_kWh_year", "kWh", 0, "energy_kWh_day of the nominal machine times 365"),
    ("packed_volume_L", "L", 2, "volume of the insulated vessels or block"),
    ("mass_kg", "kg", 2, "dry mass of vessels, coil or block, elements, group and portafilter"),
    (
        "pressure_drop_bar",
        "bar",
        3,
        "pressure drop of coil or block channel and group passage at the fill flow",
    ),
    (
        "puck_pressure_bar",
        "bar",
        1,
        "gauge pressure that the pump can hold on the puck at the fastest steady flow",
    ),
    (
        "steam_gauge_bar",
        "bar",
        2,
        "gauge pressure of the steam boiler at its set-point and the site's altitude",
    ),
    ("pressure_volume_bar_L", "bar L", 2, "largest pressure (safety valve, gauge) times volume of a vessel"),
    ("steam_dryness", "", 2, "dryness of the steam at the wand"),
    ("ripple_K", "K", 3, "largest ripple of the brew boiler by its element's firing window"),
    ("flicker_Pst", "", 2, "short-term flicker, worst ten minutes"),
    ("expansion_mL", "mL", 1, "water that leaves by thermal expansion"),
    ("energy_residual", "", 6, "energy balance left open, relative to the electrical energy"),
)

_MARGINS = _group(
    "margin",
    ("margin_mains_A", "A", 2, "site limit less largest single element less pump and electronics"),
    ("margin_served", "", 3, "limit less the longest time that an element got nothing, relative to warm-up"),
    ("margin_watt_density_W_cm2", "W/cm²", 2, "limit less the highest surface load of an element"),
    ("margin_level_mm", "mm", 1, "lowest steam boiler level less the top of its element"),
    ("margin_outlet_boiling_K", "K", 2, "boiling point less hottest water at the screen less 1 K"),
    ("margin_brew_boiling_K", "K", 2, "boiling point of the idle line less hottest brew water less 2 K"),
    ("margin_coil_boiling_K", "K", 2, "boiling point of the idle line less hottest coil water"),
    ("margin_steam_s", "s", 1, "limit less the steaming time"),
    ("margin_overshoot_K", "K", 2, "limit less the overshoot"),
    ("margin_setpoint_K", "K", 2, "limit less the larger error at the ends of the set-point range"),
    ("margin_trim_K", "K", 2, "distance of the trim offset from its bounds"),
    ("margin_wait_s", "s", 0, "limit less the sum of waits"),
    ("margin_coil_fit_mm", "mm", 1, "how much room the helix has in the steam boiler"),
    ("margin_envelope_mm", "mm", 0, "smallest slack of the packed vessels in the casing"),
    ("margin_wall_mm", "mm", 2, "chosen less required wall thickness"),
    (
        "margin_volume_category_L",
        "L",
        2,
        "volume limit of the lowest pressure category less the steam boiler's",
    ),
    (
        "margin_steam_valve_bar",
        "bar",
        2,
        "opening of the steam boiler's safety valve less its pressure and a distance",
    ),
    (
        "margin_pump_bar",
        "bar",
        1,
        "what the pump holds behind coil and group at the duty's flows less what the puck asks",
    ),
)

_VERDICT = [
    Column("feasible", "", "every margin is met and the design came through its duty", 0, "verdict", "bool"),
    Column("reason", "", "why the design did not come through its duty", 0, "verdict", "str"),
    Column("shortfall", "", "how far from coming through, 0 when it did (1 = not at all)", 3, "verdict"),
    Column("fault", "", "what went wrong with the evaluation itself", 0, "verdict", "str"),
]

COLUMNS: dict[str, Column] = {
    column.name: column
    for column in (*_KEYS, *_VARIABLES, *_OBJECTIVES, *_NOMINAL, *_FIGURES, *_MARGINS, *_VERDICT)
}
"""All columns by name, in the order in which files have them."""

MARGINS = tuple(name for name, column in COLUMNS.items() if column.group == "margin")
FIGURES = tuple(name for name, column in COLUMNS.items() if column.group == "figure")

SITE_FIGURES = (
    *(
        "brew_ready_s",
        "all_ready_s",
        "worst_shot_K",
        "idle_shot_K",
        "error_low_K",
        "error_high_K",
        "set_point_top_C",
    ),
    *(
        "set_point_cut_K",
        "trim_offset_K",
        "steam_time_s",
        "wait_s",
        "recovery_s",
        "overshoot_K",
        "peak_current_A",
    ),
    *("holding_power_W", "flicker_Pst"),
)
"""Figures that a table over several sites has for each of them, besides objectives and margins."""


def at_site(name: str, site: str) -> str:
    """Return the name of a site's own column."""
    return f"{name}@{site}"


def site_columns(sites: Sequence[str], variables: Iterable[str] = ()) -> dict[str, Column]:
    """Return all columns of a table over several sites, with those that each site has of its own.

    `variables` are the design's; those named for a site become columns as well. Without sites `COLUMNS`.
    """
    own = [COLUMNS[name] for name in (*OBJECTIVES, *SITE_FIGURES, *MARGINS)]
    found = dict(COLUMNS)
    for name in variables:
        base, _, site = name.partition("@")
        if site:
            found[name] = replace(COLUMNS[base], name=name, text=f"{COLUMNS[base].text}; {site}", site=site)
    for site in sites:
        for column in own:
            name = at_site(column.name, site)
            found[name] = replace(column, name=name, text=f"{column.text}; {site}", group="site", site=site)
    return found
