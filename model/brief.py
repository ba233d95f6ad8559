"""What every design of a sweep has in common: site, duty, part data, limits, tolerances, prices."""

from __future__ import annotations

from typing import Self

from pydantic import model_validator

from boilerfront.model.duty import Duty
from boilerfront.model.limits import Limits
from boilerfront.model.machine import Machine
from boilerfront.model.prices import PriceBook
from boilerfront.model.site import Site, WarmUp
from boilerfront.model.tolerances import Tolerances, TrimRule
from boilerfront.shared.schema import Section


class Brief(Section):
    """The sections of a sweep file that the model owns."""

    site: Site = Site()
    duty: Duty = Duty()
    warm_up: WarmUp = WarmUp()
    machine: Machine = Machine()
    limits: Limits = Limits()
    tolerances: Tolerances = Tolerances()
    trim: TrimRule = TrimRule()
    prices: PriceBook

    @model_validator(mode="after")
    def _level_band(self) -> Self:
        vessel = self.machine.steam_vessel
        if vessel.level_low >= vessel.level_high:
            raise ValueError("machine.steam_vessel.level_low must be below level_high")
        return self
