"""Metals that vessels, tubes and groups are made of, at working temperature.

Values are of handbook kind: density is good to 3 %, heat capacity to 6 %, conductivity to 15 %.
"""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Solid:
    """One material, taken as constant over 20 to 150 degC."""

    name: str
    density_kg_m3: float
    heat_capacity_J_kgK: float
    conductivity_W_mK: float
    source: str

    @property
    def volumetric_heat_J_m3K(self) -> float:
        """Heat capacity of a cubic metre [J/m3K]."""
        return self.density_kg_m3 * self.heat_capacity_J_kgK


STAINLESS_304L = Solid(
    name="stainless 304L",
    density_kg_m3=7900.0,
    heat_capacity_J_kgK=490.0,
    conductivity_W_mK=16.0,
    source="EN 10088-1 data and Incropera appendix A (14.9 W/mK at 300 K, 16.6 at 400 K), from memory",
)
COPPER_DHP = Solid(
    name="copper DHP",
    density_kg_m3=8930.0,
    heat_capacity_J_kgK=385.0,
    conductivity_W_mK=330.0,
    source="EN 1057 tube copper (phosphorus takes 15-25 % of pure copper's 401 W/mK), from memory",
)
BRASS = Solid(
    name="brass",
    density_kg_m3=8400.0,
    heat_capacity_J_kgK=380.0,
    conductivity_W_mK=115.0,
    source="CuZn40Pb2 family, data sheets, from memory; generic brass of the package ht: 8400, 380, 120",
)
BRASS_LEAD_FREE = Solid(
    name="silicon brass, lead-free",
    density_kg_m3=8270.0,
    heat_capacity_J_kgK=385.0,
    conductivity_W_mK=34.0,
    source="Cu76Zn21Si3 data sheets, from memory: a third of ordinary brass's conductivity",
)
ALUMINIUM_6061 = Solid(
    name="aluminium 6061-T6",
    density_kg_m3=2700.0,
    heat_capacity_J_kgK=896.0,
    conductivity_W_mK=167.0,
    source="Incropera appendix A and alloy data sheets, from memory",
)
ALUMINIUM_CAST = Solid(
    name="cast aluminium, 9-12 % silicon",
    density_kg_m3=2660.0,
    heat_capacity_J_kgK=920.0,
    conductivity_W_mK=140.0,
    source="EN 1706 alloys, data sheets, from memory (130-160 W/mK, die-cast 100-140)",
)

SOLIDS = {
    solid.name: solid
    for solid in (STAINLESS_304L, COPPER_DHP, BRASS, BRASS_LEAD_FREE, ALUMINIUM_6061, ALUMINIUM_CAST)
}
