"""Devices and their tags are the same in drawing, bill, cautions and bench plan, whatever is heated."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace

import pytest

from boilerfront.model import evaluate_many
from boilerfront.model.cost import Line
from boilerfront.model.describe import Description, describe
from boilerfront.model.prices import ITEMS, LABOUR
from boilerfront.model.variables import FAMILIES
from boilerfront.results.pack.behaviour import tolerance_table
from boilerfront.results.pack.bench import bench_blocks
from boilerfront.results.pack.blocks import Block, Caution, Heading, Points, Table, Text
from boilerfront.results.pack.build import drawing_blocks
from boilerfront.results.pack.devices import cut_outs, devices, tag_of
from boilerfront.results.pack.release import releases
from boilerfront.results.pack.required import TITLE
from boilerfront.results.pack.safety import safety_blocks
from boilerfront.results.pack.settings import bill_blocks
from boilerfront.results.pack.subject import Subject
from boilerfront.results.pack.write import bill_csv
from tests.model.random_designs import NOMINAL, random_designs

HEATED = ("brew", "group", "steam")
NUMBERS = dict(zip(HEATED, "123", strict=True))
MACHINES = [(kind, heated) for kind in FAMILIES for heated in (True, False)]


def other(found: Subject, kind: str, heated: bool) -> Subject:
    """Return the subject with another machine in its place."""
    (design,) = random_designs(1, 2, architecture=kind, heated=heated)
    return replace(found, machine=describe(design, NOMINAL, offset_K=0.0))


def words(blocks: list[Block]) -> str:
    """Return all that blocks say."""
    said: list[str] = []
    for block in blocks:
        match block:
            case Heading(text) | Text(text) | Caution(text):
                said.append(text)
            case Points(items):
                said += items
            case Table():
                said += [cell for row in block.rows for cell in row]
    return "\n".join(said)


def switches(machine: Description) -> set[str]:
    return {f"TC{NUMBERS[heater.name]}" for heater in machine.heaters}


@pytest.mark.parametrize(("kind", "heated"), MACHINES)
def test_every_heated_body_has_its_cut_out_wherever_cut_outs_are_spoken_of(
    subject: Subject,
    kind: str,
    heated: bool,
) -> None:
    found = other(subject, kind, heated)
    expected = switches(found.machine)
    assert ("TC2" in expected) == heated
    assert {each.tag for each in cut_outs(found.machine)} == expected
    for blocks in (
        drawing_blocks(found),
        bill_blocks(found),
        safety_blocks(found),
        bench_blocks(found),
    ):
        assert set(re.findall(r"\bTC\d", words(blocks))) == expected
    assert {each.tag for each in releases(found.machine, found.required)} >= expected
    caution = next(block for block in bench_blocks(found) if isinstance(block, Caution))
    assert set(re.findall(r"\bTC\d", caution.text)) == expected


@pytest.mark.parametrize(("kind", "heated"), MACHINES)
def test_the_bill_has_a_row_for_each_device_and_adds_up(
    subject: Subject,
    kind: str,
    heated: bool,
) -> None:
    found = other(subject, kind, heated)
    (design,) = random_designs(1, 2, architecture=kind, heated=heated)
    row = evaluate_many([design], NOMINAL)[0]
    cost = sum(each.cost for each in devices(found.machine))
    assert cost == pytest.approx(row.get("part_cost", found_cost(found)), rel=1e-12)
    (table,) = [block for block in bill_blocks(found) if isinstance(block, Table)]
    tags = [cells[0] for cells in table.rows if cells[0]]
    assert len(set(tags)) == len(tags)
    drawn = {cells[k] for cells in _tags(found).rows for k in (0, 2)}
    assert set(tags) <= drawn
    costs = [float(cells[3].split()[0]) for cells in table.rows]
    assert sum(costs[:-2]) == pytest.approx(costs[-2], abs=0.005 * len(costs))
    lines = list(csv.DictReader(io.StringIO(bill_csv(found).decode())))
    assert {line["tag"] for line in lines if line["counts_as"] == "part_cost"} == set(tags)
    elements = {line["tag"] for line in lines if line["item"] == "element"}
    assert elements == {f"E{NUMBERS[heater.name]}" for heater in found.machine.heaters}


def found_cost(found: Subject) -> float:
    """Return the cost of the lines of a machine that does not come through its duty, and so has no row."""
    return sum(line.cost for line in found.machine.lines)


def _tags(found: Subject) -> Table:
    return next(block for block in drawing_blocks(found) if isinstance(block, Table))


@pytest.mark.parametrize("kind", list(FAMILIES))
def test_what_is_required_and_no_part_of_the_pack_is_listed(subject: Subject, kind: str) -> None:
    found = other(subject, kind, heated=True)
    blocks = drawing_blocks(found)
    place = next(k for k, block in enumerate(blocks) if isinstance(block, Heading) and block.text == TITLE)
    table = next(block for block in blocks[place:] if isinstance(block, Table))
    listed = {cells[0] for cells in table.rows}
    assert {"XV1", "S1", "FU", "PE", "wiring"} <= listed
    assert ({"LC3", "CV1", "VB3"} <= listed) == (found.machine.body("steam") is not None)
    assert ("VB1" in listed) == (kind == "single_boiler")
    assert all(all(cells) for cells in table.rows)
    meanings = {cells[k]: cells[k + 1] for cells in _tags(found).rows for k in (0, 2)}
    assert meanings["FU"] == "fuses (required)"
    assert meanings["XV1"] == "expansion valve of the brew side (required)"
    assert not listed & {each.tag for each in devices(found.machine)}


def test_every_item_of_the_price_book_has_a_tag() -> None:
    of = {"valve": "group", "coil_piece": "coil", "level_probe": "steam"}
    for item in set(ITEMS) - {LABOUR}:
        assert re.fullmatch(r"[A-Z]+\d", tag_of(Line(item, 1.0, ITEMS[item], 1.0, of.get(item, "brew"))))


@pytest.mark.parametrize(("kind", "heated"), MACHINES)
def test_bands_allow_for_what_the_machine_has_and_for_nothing_else(
    subject: Subject,
    kind: str,
    heated: bool,
) -> None:
    found = other(subject, kind, heated)
    said = " ".join(cells[0] for cells in tolerance_table(found).rows)
    assert ("coil" in said.replace("elements and coil", "")) == (found.machine.tube is not None)
    for name in HEATED:
        assert (name in said) == any(heater.name == name for heater in found.machine.heaters)
    assert "mains voltage" in said
