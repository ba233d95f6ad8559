"""The schematic shows the parts that a machine has, and no others, inside its sheet."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from boilerfront.model.describe import Description, describe
from boilerfront.results.pack.schematic import HEIGHT, WIDTH, schematic
from tests.model.random_designs import NOMINAL


def machine(kind: str) -> Description:
    """Return a described machine of default sizes."""
    return describe({"architecture": kind}, NOMINAL, offset_K=0.0)


@pytest.mark.parametrize(
    ("kind", "has", "lacks"),
    [
        ("dual_boiler_coil", "C1 E1 E2 E3 L1 P1 SV1 SV3 T1 T2 T3 TC1 TC3 TP V1 V2 V3", "F1"),
        ("dual_boiler", "E1 E3 L1 SV1 SV3 T1 T3 V2", "C1"),
        ("heat_exchanger", "C1 E3 L1 SV3 T3 V2 V3", "E1 T1 SV1 TC1"),
        ("single_boiler", "E1 E2 SV1 T1 V3", "C1 E3 L1 SV3 T3 V2"),
        ("thermoblock", "E1 E2 SV1 T1 TC1 V3", "C1 E3 L1 SV3 T3 V2"),
    ],
)
def test_tags_are_those_of_the_parts(kind: str, has: str, lacks: str) -> None:
    drawing = schematic(machine(kind), level=0.615)
    assert set(has.split()) <= set(drawing.tags)
    assert not set(lacks.split()) & set(drawing.tags)
    svg = drawing.sheet.svg("title & more")
    root = ElementTree.fromstring(svg)
    assert root.attrib["aria-label"] == "title & more"
    written = {element.text for element in root.iter("{http://www.w3.org/2000/svg}text")}
    assert set(drawing.tags) <= written


@pytest.mark.parametrize("kind", ["dual_boiler_coil", "heat_exchanger", "single_boiler", "thermoblock"])
def test_nothing_is_drawn_outside_of_the_sheet(kind: str) -> None:
    svg = schematic(machine(kind), level=0.615).sheet.svg("")
    for x, y in re.findall(r"[ML] (-?[\d.]+) (-?[\d.]+)", svg):
        assert 0.0 <= float(x) <= WIDTH
        assert 0.0 <= float(y) <= HEIGHT
    for x, y in re.findall(r'<(?:text x|circle cx)="(-?[\d.]+)" c?y="(-?[\d.]+)"', svg):
        assert 0.0 <= float(x) <= WIDTH
        assert 0.0 <= float(y) <= HEIGHT


def test_extreme_vessels_stay_on_their_scale() -> None:
    whole = machine("dual_boiler_coil")
    brew, steam = whole.bodies if whole.bodies[0].name == "brew" else whole.bodies[::-1]
    small = replace(brew, outer_diameter_mm=30.0, outer_height_mm=40.0)
    large = replace(steam, outer_diameter_mm=200.0, outer_height_mm=320.0)
    for bodies in ((small, large), (replace(brew, outer_diameter_mm=200.0, outer_height_mm=90.0), steam)):
        svg = schematic(replace(whole, bodies=bodies), level=0.615).sheet.svg("")
        assert "nan" not in svg
        for x, y in re.findall(r"[ML] (-?[\d.]+) (-?[\d.]+)", svg):
            assert 0.0 <= float(x) <= WIDTH
            assert 0.0 <= float(y) <= HEIGHT
