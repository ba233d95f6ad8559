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

    @model_validator(mode="after")
    def _household_rules(self) -> Self:
        """Refuse a machine that stays on longer, or draws more when off, than the site's rules allow."""
        control, limits = self.machine.control, self.limits
        faults = []
        if self.site.standby_rules and control.hold_s > limits.auto_off_s:
            faults.append(
                f"machine.control.hold_s {control.hold_s:g}: at most {limits.auto_off_s:g} s to auto-off, "
                "EU 1275/2008 as amended by 801/2013 (from memory); limits.auto_off_s or "
                "site.standby_rules = false say otherwise"
            )
        if self.site.standby_rules and control.off_W > limits.off_W:
            faults.append(
                f"machine.control.off_W {control.off_W:g}: at most {limits.off_W:g} W when off, EU 2023/826 (from "
                "memory); limits.off_W or site.standby_rules = false say otherwise"
            )
        if faults:
            raise ValueError("; ".join(faults))
        return self
