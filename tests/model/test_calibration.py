"""What a bench found is used by every machine, scatters in robust figures, and is refused where it is nonsense."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from boilerfront.model import evaluate_many
from boilerfront.model.calibration import Calibration, Corrected, calibration_toml, read_calibration
from boilerfront.model.sensitivity import tolerance_effects
from boilerfront.model.tolerances import Tolerances
from boilerfront.shared.errors import InputError
from tests.model.random_designs import NOMINAL

DESIGN = {"architecture": "dual_boiler"}


def calibration(**values: tuple[float, float, float]) -> Calibration:
    found = {name: Corrected(value=v, low=low, high=high) for name, (low, v, high) in values.items()}
    return Calibration(coefficients=found)


def test_a_higher_loss_costs_energy() -> None:
    brief = NOMINAL.model_copy(update={"calibration": calibration(steam_loss=(1.8, 2.0, 2.2))})
    plain, lossy = (evaluate_many([DESIGN], each)[0]["holding_power_W"] for each in (NOMINAL, brief))
    assert isinstance(plain, float)
    assert isinstance(lossy, float)
    # the steam boiler at 124 °C loses 0.27 W/K (see test_network) twice instead of once, less what warms the casing
    assert 15.0 < lossy - plain < 35.0


def test_what_is_not_told_or_belongs_to_the_one_machine_is_not_used() -> None:
    untold = Corrected(value=2.0, low=0.1, high=9.0, told=False)
    own = Corrected(value=0.9, low=0.88, high=0.92)
    found = Calibration(coefficients={"brew_loss": untold, "brew_power_factor": own})
    assert found.machine() == {}
    brief = NOMINAL.model_copy(update={"calibration": found})
    assert evaluate_many([DESIGN], brief) == evaluate_many([DESIGN], NOMINAL)


def test_intervals_scatter_and_leave_the_other_tolerances_alone() -> None:
    brief = NOMINAL.model_copy(
        update={"calibration": calibration(brew_loss=(1.0, 1.2, 1.44)), "tolerances": Tolerances(samples=64)}
    )
    drawn = brief.machines()
    plain = brief.model_copy(update={"calibration": None}).machines()
    assert all(np.array_equal(drawn[name], values) for name, values in plain.items())
    logs = np.log(drawn["brew_loss"] / 1.2)
    assert np.std(logs) == pytest.approx(np.log(1.2) / 2.0, rel=0.1)  # 95 % are two sigma
    assert np.mean(logs) == pytest.approx(0.0, abs=0.01)


def test_correlated_coefficients_scatter_together() -> None:
    wide = {name: Corrected(value=1.0, low=0.5, high=2.0) for name in ("coil_outside", "coil_inside")}
    found = Calibration(coefficients=wide, correlations=((1.0, -0.95), (-0.95, 1.0)))
    drawn = found.samples(256, 1)
    seen = np.corrcoef(np.log(drawn["coil_outside"]), np.log(drawn["coil_inside"]))[0, 1]
    assert seen == pytest.approx(-0.95, abs=0.03)


def test_intervals_are_among_the_tolerances_that_explain_moves() -> None:
    brief = NOMINAL.model_copy(update={"calibration": calibration(group_loss=(1.1, 1.3, 1.5))})
    effects = tolerance_effects(DESIGN, brief)[""].effects
    moved = [each for each in effects if each.name == "group_loss"]
    assert [each.after for each in moved] == [1.1, 1.5]
    assert moved[1].changes["energy_kWh_day"] > moved[0].changes["energy_kWh_day"]


def test_it_reads_what_it_wrote_and_refuses_nonsense(tmp_path: Path) -> None:
    path = tmp_path / "cal.toml"
    found = calibration(brew_loss=(1.0, 1.2, 1.4), mixing=(0.5, 0.7, 0.9))
    path.write_text(calibration_toml(found), encoding="utf-8")
    assert read_calibration(path) == found
    for content, said in (
        ("[coefficients.brew_los]\nvalue=1.0\nlow=0.9\nhigh=1.1", "brew_los: one of"),
        ("[coefficients.brew_loss]\nvalue=50.0\nlow=0.9\nhigh=100.1", "0.1 to 10"),
        ("[coefficients.brew_loss]\nvalue=1.0\nlow=1.1\nhigh=1.2", "low <= value <= high"),
        ("correlations = [[1.0]]", "0 rows of 0 numbers"),
        ("coefficients = 3", "dictionary"),
        ("x = ", "a file that calibrate wrote"),
    ):
        path.write_text(content, encoding="utf-8")
        with pytest.raises(InputError, match=said.replace("[", r"\[")):
            read_calibration(path)
    with pytest.raises(InputError, match="No such file"):
        read_calibration(tmp_path / "none.toml")
