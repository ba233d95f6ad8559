"""The space: ranges, conditions, and the way to the unit cube and back."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.search import Choice, Float, Int, Space
from boilerfront.search.space import Value, Variable
from boilerfront.shared.errors import InputError


def conditional() -> Space:
    return Space(
        {
            "kind": Choice(("plain", "coil", "helix")),
            "length": Float(0.1, 3.0, active_if={"kind": ("coil", "helix")}),
            "shape": Choice(("round", "flat"), active_if={"kind": ("helix",)}),
            "pitch": Int(2, 9, active_if={"shape": ("flat",)}),
            "power": Float(300.0, 1500.0),
        }
    )


@st.composite
def floats(draw: st.DrawFn) -> Float:
    low = draw(st.floats(1e-3, 1e4))
    high = low * draw(st.floats(1.01, 1e4))
    return Float(low, high, log=draw(st.booleans()))


@st.composite
def stepped(draw: st.DrawFn) -> Float:
    low, step = draw(st.floats(-100.0, 100.0)), draw(st.floats(0.01, 10.0))
    return Float(low, low + step * draw(st.integers(0, 50)), step=step)


@st.composite
def ints(draw: st.DrawFn) -> Int:
    low, log = draw(st.integers(1, 500)), draw(st.booleans())
    return Int(low, low + draw(st.integers(0, 3000)), log=log, step=1 if log else draw(st.integers(1, 7)))


choices = st.lists(
    st.one_of(st.text(max_size=3), st.integers(), st.booleans()), min_size=1, max_size=6, unique_by=repr
)
variables = st.one_of(floats(), stepped(), ints(), choices.map(lambda values: Choice(tuple(values))))


@given(variables, st.integers(0, 2**32 - 1))
def test_a_genome_survives_decoding_and_encoding_bit_for_bit(variable: Variable, seed: int) -> None:
    space = Space({"x": variable})
    genomes = space.coding.canonical(np.random.default_rng(seed).random((20, 1)))
    assert np.array_equal(space.encode(space.decode(genomes)), genomes)


@given(
    st.one_of(stepped(), ints(), choices.map(lambda values: Choice(tuple(values)))), st.integers(0, 2**32 - 1)
)
def test_a_level_survives_encoding_and_decoding(variable: Variable, seed: int) -> None:
    space = Space({"x": variable})
    row = space.decode(np.random.default_rng(seed).random((1, 1)))[0]
    assert space.decode(space.encode([row]))[0] == row


@given(floats(), st.floats(0.0, 1.0))
def test_a_number_survives_to_the_grid_of_the_cube(variable: Float, part: float) -> None:
    value = min(max(variable.low + part * (variable.high - variable.low), variable.low), variable.high)
    space = Space({"x": variable})
    back = space.decode(space.encode([{"x": value}]))[0]["x"]
    assert isinstance(back, float)
    # The grid has 2**32 steps: half a step of the range, on a logarithmic axis of the ratio of the ends.
    if variable.log:
        assert math.log(back / value) == pytest.approx(
            0.0, abs=math.log(variable.high / variable.low) / 2**32
        )
    else:
        assert back == pytest.approx(value, abs=(variable.high - variable.low) / 2**32)


def test_the_ends_of_a_range_are_reached_exactly() -> None:
    space = Space({"x": Float(0.1, 0.7), "y": Float(1e-3, 0.3, log=True), "n": Int(1, 1000, log=True)})
    assert space.decode(np.zeros((1, 3)))[0] == {"x": 0.1, "y": pytest.approx(1e-3), "n": 1}
    assert space.decode(np.ones((1, 3)))[0] == {"x": 0.7, "y": pytest.approx(0.3), "n": 1000}


def test_uniform_genomes_give_every_level_the_same_weight() -> None:
    space = Space({"n": Int(0, 3), "c": Choice(("a", "b"))})
    rows = space.decode(np.column_stack([(np.arange(400) + 0.5) / 400] * 2))
    assert [sum(row["n"] == k for row in rows) for k in range(4)] == [100] * 4
    assert sum(row["c"] == "a" for row in rows) == 200


@given(st.integers(0, 2**32 - 1))
def test_masked_coordinates_never_tell_two_designs_apart(seed: int) -> None:
    space = conditional()
    rng = np.random.default_rng(seed)
    genomes = space.coding.canonical(rng.random((50, 5)))
    noise = np.where(space.coding.active(genomes), genomes, rng.random((50, 5)))
    assert np.array_equal(space.coding.canonical(noise), genomes)
    rows = [space.active(row) for row in space.decode(genomes)]
    assert np.array_equal(space.encode(rows), genomes)


def test_a_variable_counts_when_all_its_parents_count_and_have_a_wanted_value() -> None:
    row: dict[str, Value] = {"kind": "helix", "length": 1.0, "shape": "flat", "pitch": 3, "power": 500.0}
    space = conditional()
    assert space.active(row) == row
    assert space.active({**row, "shape": "round"}) == {**row, "shape": "round", "pitch": None}
    assert space.active({**row, "kind": "plain"}) == {
        "kind": "plain",
        "length": None,
        "shape": None,
        "pitch": None,
        "power": 500.0,
    }


def test_numbers_in_ascending_order_are_no_nominal_choice() -> None:
    space = Space(
        {"power": Choice((300, 800, 1500)), "group": Choice((True, False)), "tube": Choice(("a", "b"))}
    )
    assert space.coding.nominal.tolist() == [False, True, True]
    assert space.coding.features(np.zeros((2, 3))).shape == (2, 5)


def test_a_variable_without_freedom_is_allowed() -> None:
    space = Space({"x": Float(2.0, 2.0), "n": Int(3, 3), "c": Choice(("only",)), "m": Int(4, 4, log=True)})
    genomes = space.coding.canonical(np.array([[0.1, 0.9, 0.3, 0.8], [0.7, 0.2, 0.6, 0.0]]))
    assert np.array_equal(genomes, np.full((2, 4), 0.5))
    assert space.decode(genomes)[0] == {"x": 2.0, "n": 3, "c": "only", "m": 4}


def test_every_fault_is_named_at_once() -> None:
    with pytest.raises(InputError) as caught:
        Space(
            {
                "a": Float(2.0, 1.0),
                "b": Float(0.0, 1.0, log=True),
                "c": Choice(()),
                "d": Choice(("x", "x")),
                "e": Float(0.0, 1.0, active_if={"nobody": ("x",)}),
                "f": Float(0.0, 1.0, active_if={"d": ("z",)}),
                "g": Float(0.0, 1.0, step=0.0),
                "h": Int(1, 9, log=True, step=2),
            }
        )
    assert [fault.where for fault in caught.value.faults] == [
        "a", "b", "c", "d", "e.active_if.nobody", "f.active_if.d", "g", "h",
    ]  # fmt: skip


def test_conditions_in_a_circle_are_refused() -> None:
    with pytest.raises(InputError, match="circle"):
        Space(
            {
                "a": Choice((1, 2), active_if={"b": (1,)}),
                "b": Choice((1, 2), active_if={"a": (1,)}),
            }
        )


def test_the_space_alone_imports_neither_optuna_nor_the_compiler() -> None:
    wanted = "any(m in sys.modules for m in ('optuna', 'numba', 'scipy'))"
    code = f"import sys, boilerfront.search as s; s.Space; sys.exit({wanted})"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_a_value_outside_the_list_is_refused() -> None:
    with pytest.raises(InputError, match="flat"):
        conditional().encode([{"kind": "coil", "shape": "oval"}])
