"""The proofs beside the table: resumed, listed, and reaching every architecture."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from boilerfront.model import ARCHITECTURES
from boilerfront.model.design import design_faults
from boilerfront.model.kernel import layout as at
from boilerfront.model.parts import helix
from tests.validate.__main__ import read_options
from tests.validate.machines import nominal_request, pool_of, random_machine
from tests.validate.proofs import Size, jobs_of
from tests.validate.refined import refined
from tests.validate.segments import segments
from tests.validate.stiff import Compared, exceptions, first_flip, stiff_group
from tests.validate.store import Store


def one_compared(**changes: Any) -> Compared:
    one = Compared("dual_boiler", 3, 0.01, 0.0, 0.002, True, "")
    return replace(one, **changes)


def test_a_cut_proof_goes_on_and_forgets_a_torn_line(tmp_path: Path) -> None:
    store = Store(tmp_path / "new é", "here")
    assert store.load() == {}
    store.add([one_compared(), one_compared(index=4, flipped="refill begins at 7 s")])
    with store.path.open("a", encoding="utf-8") as file:
        file.write('{"architecture": "dual_bo')
    store.add([one_compared(index=5)])
    found = Store(tmp_path / "new é", "here").load()
    assert ("dual_boiler", 3) in found
    assert found["dual_boiler", 4].flipped == "refill begins at 7 s"
    assert Store(tmp_path / "new é", "there").load() == {}, "other sources, other results"


def test_what_is_stored_survives_as_it_was(tmp_path: Path) -> None:
    store = Store(tmp_path, "here")
    silent = one_compared(imposed_K=math.nan, shot_K=math.nan)
    store.add([silent])
    (back,) = store.load().values()
    assert math.isnan(back.imposed_K)
    assert back.agrees == silent.agrees


@pytest.mark.parametrize(
    ("changes", "agrees"),
    [
        ({}, True),
        ({"late": 0.0051}, False),
        ({"shot_K": 0.051}, False),
        ({"ends_alike": False}, False),
        ({"shot_K": math.nan}, True),  # never ready, in both
    ],
)
def test_designs_that_disagree_are_listed(changes: dict[str, object], agrees: bool) -> None:
    one = one_compared(**changes)
    assert one.agrees == agrees
    assert len(exceptions([one])) == (not agrees)


def test_a_share_that_is_too_small_fails() -> None:
    good, bad = one_compared(), one_compared(shot_K=0.2, flipped="refill begins at 7 s")
    assert not any(check.fails for check in stiff_group([good] * 19 + [bad]).checks)
    failing = [check for check in stiff_group([good] * 18 + [bad] * 2).checks if check.fails]
    assert [check.computed for check in failing] == [0.9]
    assert stiff_group([one_compared(imposed_K=0.051)]).checks[0].fails


def test_flips_are_found() -> None:
    course = [(10.0, "idle to shot"), (38.0, "shot to idle")]
    assert first_flip(course, course) == ""
    assert "38" in first_flip(course, [course[0], (39.0, "shot to idle")])
    assert first_flip(course, course[:1]) == "2 events, in the stiff solver 1"


def test_the_short_proof_reaches_every_architecture_and_every_part() -> None:
    jobs = jobs_of(Size(compared=2, rated=150))
    assert len(set(jobs)) == len(jobs)
    for name in ARCHITECTURES:
        for kind in ("steps", "kept", "compared", "weighed"):
            assert any(job.kind == kind and job.arguments[0] == name for job in jobs)
        rated = [job.arguments[2] for job in jobs if job.kind == "kept" and job.arguments[0] == name]
        assert sum(rated) == 150
    assert {job.kind for job in jobs} == {"segments", "steps", "kept", "published", "compared", "weighed"}


def test_random_machines_stay_as_they_are_and_lie_in_their_ranges() -> None:
    for name in ARCHITECTURES:
        design = random_machine(name, 6)
        assert design == random_machine(name, 6) != random_machine(name, 7)
        assert design_faults(design) == []
        assert random_machine(name, 7)["group_power_W"] == 0.0


@pytest.mark.parametrize("text", ["0", "-3", "many"])
def test_options_refuse_what_makes_no_sense(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as caught:
        read_options(["--designs", text])
    assert caught.value.code == 2
    assert text in capsys.readouterr().err


def test_coils_are_cut_for_a_while_only() -> None:
    before = helix.SEGMENTS
    with segments(7):
        assert helix.SEGMENTS == 7
    assert before == helix.SEGMENTS


@pytest.mark.slow
def test_the_kernel_s_own_step_taken_once_gives_the_kernel_s_bits() -> None:
    """What refines the step is the kernel: whole steps repeat its run exactly."""
    for name in ARCHITECTURES:
        pool = pool_of(random_machine(name, 0))
        request = nominal_request(pool)
        whole = pool.run([request])
        again, _ = refined(pool, request, 1)
        assert np.array_equal(whole.shots[0], again.shots[: len(whole.shots[0])])
        assert whole.out[0, at.O_ENERGY_J] == again.out[at.O_ENERGY_J]
