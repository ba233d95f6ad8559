"""A platform for several markets: each site's own figures, the worst of them, margins that hold everywhere."""

from __future__ import annotations

from functools import cache

import pytest
from pydantic import ValidationError

from boilerfront.model import COLUMNS, MARGINS, OBJECTIVES, evaluate_many, simulate
from boilerfront.model.brief import Brief
from boilerfront.model.glossary import SITE_FIGURES, at_site, site_columns
from boilerfront.model.markets import design_at
from boilerfront.model.rating import rows_at_site
from boilerfront.model.site import Markets, Site
from boilerfront.model.tolerances import Tolerances
from boilerfront.shared.errors import InputError
from tests.model.random_designs import BOOK, NOMINAL, Design, Row, number

EU = Site()
US = Site(name="120 V 15 A", voltage_V=120.0, current_limit_A=12.0, frequency_Hz=60, mains_tolerance=0.05)
SITES = {"eu": EU, "us": US}
PLATFORM = Brief(prices=BOOK, tolerances=Tolerances(samples=0), sites=SITES)
DESIGNS: list[Design] = [
    {"brew_power_W": 800.0, "steam_power_W": 1200.0},
    {"brew_power_W": 800.0, "steam_power_W": 1200.0, "steam_power_W@us": 1000.0},
    {"architecture": "dual_boiler_coil", "brew_power_W@eu": 900.0, "brew_power_W@us": 600.0},
]


@cache
def rows() -> list[Row]:
    """Return the rows of the designs over both sites."""
    return list(evaluate_many(DESIGNS, PLATFORM))


def alone(site: str) -> list[Row]:
    """Return the rows of the designs as they are sold at one site, evaluated for it alone."""
    brief = NOMINAL.model_copy(update={"site": SITES[site]})
    return list(rows_at_site([design_at(design, site) for design in DESIGNS], brief))


def test_each_site_s_columns_are_those_of_a_sweep_for_it_alone() -> None:
    for site in SITES:
        for row, own in zip(rows(), alone(site), strict=True):
            for name in (*OBJECTIVES, *SITE_FIGURES, *MARGINS):
                assert row[at_site(name, site)] == own[name], (name, site)


def test_objectives_are_the_worst_and_margins_the_least() -> None:
    for row in rows():
        for name in OBJECTIVES:
            assert row[name] == max(number(row, at_site(name, site)) for site in SITES)
        for name in MARGINS:
            own = [row[at_site(name, site)] for site in SITES]
            known = [float(value) for value in own if isinstance(value, float)]
            assert row[name] == (min(known) if known else None)
        margins = [row[at_site(name, site)] for name in MARGINS for site in SITES]
        assert row["feasible"] == all(float(value) >= 0.0 for value in margins if isinstance(value, float))


def test_a_margin_of_one_site_alone_counts_everywhere() -> None:
    (row, *_) = rows()
    assert row["margin_volume_category_L"] == row["margin_volume_category_L@eu"] is not None
    high = EU.model_copy(update={"altitude_m": 2500.0})
    (cut,) = evaluate_many(DESIGNS[:1], PLATFORM.model_copy(update={"sites": {"eu": EU, "high": high}}))
    assert number(cut, "set_point_top_C") == number(cut, "set_point_top_C@high") < 96.0


def test_a_stated_weighting_makes_means_of_objectives_alone() -> None:
    weighted = PLATFORM.model_copy(update={"markets": Markets(weights={"eu": 3.0, "us": 1.0})})
    for row, worst in zip(evaluate_many(DESIGNS, weighted), rows(), strict=True):
        for name in OBJECTIVES:
            mean = 0.75 * number(row, at_site(name, "eu")) + 0.25 * number(row, at_site(name, "us"))
            assert number(row, name) == pytest.approx(mean, rel=1e-12)
        assert {name: row[name] for name in MARGINS} == {name: worst[name] for name in MARGINS}


def test_a_design_that_fails_at_one_site_has_that_site_in_its_reason() -> None:
    # an 1800 W element asks 15 A of 12 A at 120 V: the interlock never lets it run
    strong: Design = {"steam_power_W": 1800.0}
    assert evaluate_many([strong], NOMINAL)[0]["reason"] is None
    (row,) = evaluate_many([strong], PLATFORM)
    assert str(row["reason"]).endswith("(us)")
    assert row["feasible"] is False
    assert number(row, "shortfall") > 0.0
    assert all(row.get(name) is None for name in OBJECTIVES)
    (mended,) = evaluate_many([{**strong, "steam_power_W@us": 1000.0}], PLATFORM)
    assert mended["reason"] is None


def test_every_key_of_a_row_is_a_column() -> None:
    known = site_columns(tuple(SITES))
    wanted = {name for name, column in known.items() if column.group not in ("key", "variable")}
    assert all(set(row) == wanted for row in rows())
    assert site_columns(()) == COLUMNS


def test_one_site_is_rated_as_ever() -> None:
    plain = [{name: value for name, value in design.items() if "@" not in name} for design in DESIGNS]
    assert evaluate_many(plain, NOMINAL) == rows_at_site(plain, NOMINAL)


def test_rows_do_not_depend_on_their_neighbours() -> None:
    assert [evaluate_many([design], PLATFORM)[0] for design in DESIGNS] == rows()
    assert evaluate_many(DESIGNS[::-1], PLATFORM)[::-1] == rows()


def test_names_of_no_site_and_shared_variables_are_refused_at_once() -> None:
    with pytest.raises(InputError) as caught:
        evaluate_many([{"brew_power_W@uk": 900.0, "brew_volume_mL@eu": 500.0}], PLATFORM)
    assert len(caught.value.faults) == 2


def test_a_trace_is_of_one_site() -> None:
    design = DESIGNS[1]
    first, us = simulate(design, PLATFORM), simulate(design, PLATFORM, site="us")
    assert first.columns["steam_power_W"].max() > us.columns["steam_power_W"].max()
    with pytest.raises(InputError, match="uk"):
        simulate(design, PLATFORM, site="uk")


def test_a_brief_with_sites_has_the_first_of_them_as_its_site() -> None:
    assert Brief(prices=BOOK, sites={"us": US, "eu": EU}).site == US
    with pytest.raises(ValidationError, match="not both"):
        Brief(prices=BOOK, site=EU, sites={"us": US})
    with pytest.raises(ValidationError, match="weights"):
        Brief(prices=BOOK, sites=SITES, markets=Markets(weights={"eu": 1.0}))
    with pytest.raises(ValidationError, match="a letter, then"):
        Brief(prices=BOOK, sites={"the us": US})
