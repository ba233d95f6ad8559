"""What metals and walls do to a machine, over 50 random designs each (common practice, no source)."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from boilerfront.model import ARCHITECTURES, evaluate_many
from boilerfront.model.bounds import heat_to_ready_J
from boilerfront.model.design import read_design
from boilerfront.model.machine import Machine, Vessels
from boilerfront.model.parts.films import FLOWS_KG_S
from boilerfront.model.parts.tube import unlisted_bores_mm
from boilerfront.model.prices import ITEMS, LABOUR, PriceBook
from tests.model.random_designs import NOMINAL, Design, Row, number, random_designs, share_that_holds

MOST = 0.9
ARCHITECTURE = "dual_boiler_coil"


@cache
def designs() -> tuple[Design, ...]:
    return tuple(random_designs(50, 95, architecture=ARCHITECTURE))


@cache
def stainless() -> tuple[Row, ...]:
    return tuple(evaluate_many(designs(), NOMINAL))


def of_material(material: str) -> list[tuple[Row, Row]]:
    """Return the rows of stainless machines and of the same in another metal."""
    other = evaluate_many([{**design, "material": material} for design in designs()], NOMINAL)
    return list(zip(stainless(), other, strict=True))


@pytest.mark.parametrize(
    "architecture",
    ["single_boiler", pytest.param("heat_exchanger", marks=pytest.mark.slow), "dual_boiler_coil"],
)
def test_a_thicker_wall_is_heavier_and_warms_slower(architecture: str) -> None:
    thick = NOMINAL.model_copy(update={"machine": Machine(vessels=Vessels(wall_mm=2.0))})
    thin_walled = random_designs(50, 95, architecture=architecture)
    pairs = list(zip(evaluate_many(thin_walled, NOMINAL), evaluate_many(thin_walled, thick), strict=True))
    for figure in ("mass_kg", "warm_up_s", "energy_kWh_day", "margin_wall_mm"):

        def rises(thin: Row, thick: Row, name: str = figure) -> bool:
            return number(thick, name) > number(thin, name)

        share = share_that_holds(f"{figure} with walls of 2 mm", thin_walled, pairs, rises, [figure])
        assert share >= MOST


@pytest.mark.parametrize("material", ["copper", "lead_free_brass"])
def test_softer_metals_make_heavier_vessels(material: str) -> None:
    for steel, other in of_material(material):
        if steel["reason"] is None and other["reason"] is None:
            assert number(other, "mass_kg") > number(steel, "mass_kg")


def test_brass_as_cast_warms_slower_than_sheet() -> None:
    share = share_that_holds(
        "warm-up in brass of 2.5 mm",
        designs(),
        of_material("lead_free_brass"),
        lambda steel, brass: number(brass, "warm_up_s") > number(steel, "warm_up_s"),
        ["warm_up_s"],
    )
    assert share >= MOST


def test_a_copper_wall_conducts_along_the_boiler_twenty_times_as_well() -> None:
    for design in designs():
        steel, copper = (
            ARCHITECTURES[ARCHITECTURE].build(
                read_design({**design, "material": metal}, NOMINAL.machine), NOMINAL
            )
            for metal in ("stainless", "copper")
        )
        assert copper.vessels["brew"].along_wall_Wm_K > 20.0 * steel.vessels["brew"].along_wall_Wm_K
        links = [
            sum(
                numbers[0]
                for (_, a, b, _), numbers in zip(plant.network.links, plant.network.numbers, strict=True)
                if a.startswith("brew_wall") and b.startswith("brew_wall")
            )
            for plant in (steel, copper)
        ]
        assert links[1] > 20.0 * links[0]


def test_a_copper_coil_heats_the_refill_more() -> None:
    """Its wall resists less, in a tube of the same sizes; the tube is heavier (8930 against 7900 kg/m3)."""
    nominal = NOMINAL.duty.flows["nominal"].steady_mL_s
    row = int(np.searchsorted(1e3 * FLOWS_KG_S, nominal))
    build = ARCHITECTURES[ARCHITECTURE].build
    for design in designs():
        tube = {**design, "coil_bore_mm": 4.0, "coil_outer_mm": 6.0}
        steel, copper = (
            build(read_design({**tube, "coil_material": metal}, NOMINAL.machine), NOMINAL)
            for metal in ("stainless", "copper")
        )
        assert copper.refill_C[row] > steel.refill_C[row] + 0.5
        assert copper.mass_kg > steel.mass_kg


def test_flat_ends_are_heavier_and_take_less_height() -> None:
    flat = NOMINAL.model_copy(update={"machine": Machine(vessels=Vessels(ends="flat"))})
    for dished, other in zip(stainless(), evaluate_many(designs(), flat), strict=True):
        if dished["reason"] is None and other["reason"] is None:
            assert number(other, "mass_kg") > number(dished, "mass_kg")
            assert number(other, "packed_volume_L") < number(dished, "packed_volume_L")


def test_heat_to_ready_follows_the_metal() -> None:
    for design in designs()[:10]:
        sheet, cast = (
            heat_to_ready_J({**design, "material": m}, NOMINAL) for m in ("stainless", "lead_free_brass")
        )
        assert cast > sheet


def test_each_metal_and_part_is_on_the_bill_at_its_price() -> None:
    plain: Design = {"architecture": ARCHITECTURE, "coil_length_m": 1.0}
    base = number(evaluate_many([plain], NOMINAL)[0], "part_cost")
    dearer: dict[str, Design] = {
        "vessel_copper": {"material": "copper"},
        "vessel_lead_free_brass": {"material": "lead_free_brass"},
        "coil_tube_copper": {"coil_material": "copper", "coil_outer_mm": 5.0},
    }
    for item, change in dearer.items():
        book = PriceBook(prices={**dict.fromkeys(ITEMS, 1.0), item: 101.0})
        brief = NOMINAL.model_copy(update={"prices": book})
        row = evaluate_many([{**plain, **change}], brief)[0]
        # 0.6 L and 1.2 L of vessel; 1 m of coil and two headers of 60 mm
        quantity = 1.12 if item.startswith("coil") else 1.8
        assert number(row, "part_cost") - base == pytest.approx(100.0 * quantity, abs=0.2)
    for item, machine in (
        ("end_flat", Machine(vessels=Vessels(ends="flat"))),
        ("end_dished", Machine()),
        ("pump", Machine()),
    ):
        book = PriceBook(prices={**dict.fromkeys(ITEMS, 1.0), item: 101.0})
        row = evaluate_many([plain], NOMINAL.model_copy(update={"prices": book, "machine": machine}))[0]
        quantity = 1.0 if item == "pump" else 4.0
        assert number(row, "part_cost") - base == pytest.approx(100.0 * quantity, abs=0.2)


def test_every_item_of_the_book_is_bought_by_some_machine() -> None:
    bought: set[str] = {LABOUR}
    for architecture in ARCHITECTURES:
        for material, tube, ends, pump, control, link in zip(
            ("stainless", "copper", "lead_free_brass"),
            ("stainless", "copper", "copper"),
            ("dished", "flat", "dished"),
            ("vibration", "rotary", "vibration"),
            ("pid", "pid_ff", "pid"),
            ("bolted", "saturated", "bolted"),
            strict=True,
        ):
            data = {"vessels": {"ends": ends}, "pump": {"kind": pump}}
            brief = NOMINAL.model_copy(update={"machine": Machine.model_validate(data)})
            values: Design = {"architecture": architecture, "material": material, "coil_material": tube}
            values |= {"control": control, "group_link": link}
            plant = ARCHITECTURES[architecture].build(read_design(values, brief.machine), brief)
            bought |= {item for item, quantity, _ in plant.parts if quantity > 0.0}
    assert bought == set(ITEMS)


def test_bores_of_copper_tube() -> None:
    # EN 1057: 6 x 1, 6 x 0.8, 8 x 1 (from memory) have bores of 4, 4.4 and 6 mm
    assert unlisted_bores_mm([3.0, 4.0, 4.4, 5.0, 6.0]) == [3.0, 5.0]
