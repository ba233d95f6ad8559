"""The schematic shows the parts that a machine has, and no others, inside its sheet and none on another."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations, product
from pathlib import Path
from xml.etree import ElementTree

import matplotlib as mpl
import pytest
from PIL import ImageFont

from boilerfront.model.describe import Description, describe
from boilerfront.model.variables import FAMILIES
from boilerfront.results.pack.devices import cut_outs, devices
from boilerfront.results.pack.drawing import HEIGHT, WIDTH, Drawing, helix_shares, wet_share
from boilerfront.results.pack.required import held_text, required
from boilerfront.results.pack.schematic import schematic
from tests.model.random_designs import NOMINAL, random_designs

SVG = "{http://www.w3.org/2000/svg}"
LETTERS = Path(mpl.get_data_path()) / "fonts" / "ttf" / "DejaVuSans-Bold.ttf"
"""Those of the PDF, and the widest that it has."""


def machine(kind: str, **values: float | str) -> Description:
    """Return a described machine of default sizes."""
    return describe({"architecture": kind, **values}, NOMINAL, offset_K=0.0)


def drawn(found: Description) -> Drawing:
    return schematic(found, level=0.615, element_top=0.35, valve_bar=12.0)


def machines() -> list[Description]:
    """Return every architecture, its group heated or not, small and large."""
    found = [machine(kind, group_power_W=power) for kind, power in product(FAMILIES, (0.0, 150.0))]
    for kind, heated in product(FAMILIES, (True, False)):
        designs = random_designs(3, 5, architecture=kind, heated=heated)
        found += [describe(design, NOMINAL, offset_K=0.0) for design in designs]
    for kind in ("dual_boiler", "dual_boiler_coil"):
        for brew, steam in ((150.0, 2000.0), (1200.0, 300.0)):
            found.append(
                machine(
                    kind, group_power_W=150.0, brew_volume_mL=brew, steam_volume_mL=steam, control="pid_ff"
                )
            )
    return found


def boxes(svg: str) -> list[tuple[str, tuple[float, float, float, float]]]:
    """Return each text with left, top, right and bottom of it, or of the circle around a tag."""
    found: list[tuple[str, tuple[float, float, float, float]]] = []
    shapes = list(ElementTree.fromstring(svg))
    for before, shape in zip([None, *shapes], shapes, strict=False):
        if shape.tag != f"{SVG}text":
            continue
        x, y, size = (float(shape.attrib[name]) for name in ("x", "y", "font-size"))
        text = shape.text or ""
        width = ImageFont.truetype(str(LETTERS), 100).getlength(text) * size / 100.0
        left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[shape.attrib["text-anchor"]] * width
        box = (left, y - 0.76 * size, left + width, y + 0.24 * size)
        if before is not None and before.tag == f"{SVG}circle":
            cx, cy, r = (float(before.attrib[name]) for name in ("cx", "cy", "r"))
            assert cx - r < box[0] < box[2] < cx + r, f"{text} is wider than its circle"
            box = (cx - r, cy - r, cx + r, cy + r)
        found.append((text, box))
    return found


@pytest.mark.parametrize("group_W", [0.0, 150.0])
@pytest.mark.parametrize("kind", list(FAMILIES))
def test_what_is_bought_or_required_is_drawn_and_nothing_else(kind: str, group_W: float) -> None:
    found = machine(kind, group_power_W=group_W)
    drawing = drawn(found)
    needed = {each.tag for each in required(found, valve_bar=12.0)} - {"wiring"}
    bought = {device.tag for device in devices(found)}
    assert set(drawing.tags) == bought | needed | {"TP"}
    written = " ".join(text for text, _ in boxes(drawing.sheet.svg("title & more"))).split()
    assert set(drawing.tags) <= set(written)
    assert ElementTree.fromstring(drawing.sheet.svg("a & b")).attrib["aria-label"] == "a & b"
    heated = {"brew": "1", "group": "2", "steam": "3"}
    expected = {heated[heater.name] for heater in found.heaters}
    for letters in ("E", "T", "TC"):
        assert {tag for tag in drawing.tags if re.fullmatch(letters + r"\d", tag)} == {
            letters + number for number in expected
        }
    assert [device.tag for device in cut_outs(found)] == sorted(f"TC{number}" for number in expected)


@pytest.mark.parametrize(
    ("kind", "has", "lacks"),
    [
        ("dual_boiler_coil", "C1 E1 E2 E3 L1 LC3 CV1 XV1 VB3 P1 SV1 SV3 V1 V2 V3 S1 FU PE", "F1 V4 W1 VB1"),
        ("dual_boiler", "E1 E3 L1 LC3 CV1 XV1 VB3 SV1 SV3 V2", "C1"),
        ("heat_exchanger", "C1 E3 L1 LC3 CV1 XV1 VB3 SV3 T3 V1 V2 V3 W1", "E1 T1 SV1 TC1"),
        ("single_boiler", "E1 E2 SV1 XV1 VB1 V3 V4", "C1 E3 L1 LC3 SV3 V2 CV1"),
        ("thermoblock", "E1 E2 SV1 XV1 TC1 V3", "C1 E3 L1 LC3 SV3 V2 CV1 V4 VB1"),
    ],
)
def test_tags_are_those_of_the_parts(kind: str, has: str, lacks: str) -> None:
    tags = set(drawn(machine(kind, group_power_W=150.0, control="pid")).tags)
    assert set(has.split()) <= tags
    assert not set(lacks.split()) & tags


def test_no_label_stands_on_another_nor_outside_of_the_sheet() -> None:
    for found in machines():
        at = boxes(drawn(found).sheet.svg(""))
        for text, (left, top, right, bottom) in at:
            assert 0.0 <= left < right <= WIDTH, (found.architecture, text)
            assert 0.0 <= top < bottom <= HEIGHT, (found.architecture, text)
        for (one, a), (other, b) in combinations(at, 2):
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (found.architecture, one, other)


def test_nothing_is_drawn_outside_of_the_sheet() -> None:
    for found in machines():
        for x, y in re.findall(r"[ML] (-?[\d.]+) (-?[\d.]+)", drawn(found).sheet.svg("")):
            assert 0.0 <= float(x) <= WIDTH
            assert 0.0 <= float(y) <= HEIGHT


def test_letters_can_be_read_on_paper() -> None:
    """On A4 the drawing is 182 mm wide; 2 mm is the height of small print's capital letters and ascenders."""
    svg = drawn(machine("dual_boiler_coil", group_power_W=150.0)).sheet.svg("")
    sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)"', svg)]
    assert min(sizes) * 182.0 / WIDTH >= 2.0


def test_a_coil_is_drawn_where_it_is_simulated() -> None:
    """Centred in the vessel's height (`kernel.steam.immersed_share`), under water as far as the level says."""
    assert helix_shares(60.0, 150.0) == pytest.approx((0.3, 0.7))
    assert wet_share(60.0, 150.0, 0.6) == pytest.approx(0.75)
    assert wet_share(20.0, 150.0, 0.615) == 1.0
    assert helix_shares(200.0, 150.0) == (0.0, 1.0)
    found = machine("dual_boiler_coil", coil_length_m=1.5)
    assert found.tube is not None
    text = next(text for text, _ in boxes(drawn(found).sheet.svg("")) if "mm high" in text)
    assert text.startswith(f"C1 {found.tube.height_mm:.0f} mm high, ")


@pytest.mark.parametrize("kind", list(FAMILIES))
def test_what_holds_the_brew_sides_pressure_is_told(kind: str) -> None:
    found = machine(kind)
    text = held_text(found, idle_bar=3.0, valve_bar=12.0)
    tags = set(re.findall(r"\b[A-Z]+\d\b", text))
    assert tags <= set(drawn(found).tags)
    assert {"V1", "XV1", "P1" if found.body("steam") is None else "CV1"} <= tags
    assert ("SV1" in tags) == (kind != "heat_exchanger")


def test_extreme_vessels_stay_on_their_scale() -> None:
    whole = machine("dual_boiler_coil")
    brew, steam = whole.bodies if whole.bodies[0].name == "brew" else whole.bodies[::-1]
    small = replace(brew, outer_diameter_mm=30.0, outer_height_mm=40.0)
    large = replace(steam, outer_diameter_mm=200.0, outer_height_mm=320.0)
    for bodies in ((small, large), (replace(brew, outer_diameter_mm=200.0, outer_height_mm=90.0), steam)):
        svg = drawn(replace(whole, bodies=bodies)).sheet.svg("")
        assert "nan" not in svg
        for x, y in re.findall(r"[ML] (-?[\d.]+) (-?[\d.]+)", svg):
            assert 0.0 <= float(x) <= WIDTH
            assert 0.0 <= float(y) <= HEIGHT
