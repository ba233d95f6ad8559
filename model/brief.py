"""What every design of a sweep has in common: site, duty, part data, limits, tolerances, prices."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Self

from pydantic import AfterValidator, Field, field_validator, model_validator

from boilerfront.model.calibration import Calibration
from boilerfront.model.duty import Duty
from boilerfront.model.limits import AUTO_OFF_SOURCE, OFF_SOURCE, Limits
from boilerfront.model.machine import Machine
from boilerfront.model.prices import PriceBook
from boilerfront.model.site import Markets, Site, WarmUp
from boilerfront.model.tolerances import Tolerances, TrimRule, ends, samples
from boilerfront.shared.schema import Section
from boilerfront.shared.shapes import Floats


def _site_name(name: str) -> str:
    if not re.fullmatch("[A-Za-z][A-Za-z0-9_]{0,19}", name):
        raise ValueError("a letter, then letters, digits and _, at most 20 in all")
    return name


SiteName = Annotated[str, AfterValidator(_site_name)]
"""It becomes a part of columns' names: `warm_up_s@us`."""


class Brief(Section):
    """The sections of a sweep file that the model owns.

    `sites` are the markets of a platform, by name; `site` is then the first of them.
    """

    site: Site = Site()
    sites: dict[SiteName, Site] = Field(default_factory=dict)
    markets: Markets = Markets()
    duty: Duty = Duty()
    warm_up: WarmUp = WarmUp()
    machine: Machine = Machine()
    limits: Limits = Limits()
    tolerances: Tolerances = Tolerances()
    trim: TrimRule = TrimRule()
    prices: PriceBook
    calibration: Calibration | None = None
    """What bench logs corrected; in a sweep file the path of what `calibrate` wrote."""

    @model_validator(mode="after")
    def _level_band(self) -> Self:
        vessel = self.machine.steam_vessel
        if vessel.level_low >= vessel.level_high:
            raise ValueError("machine.steam_vessel.level_low must be below level_high")
        return self

    @field_validator("sites", mode="before")
    @classmethod
    def _by_name(cls, sites: object) -> object:
        if not isinstance(sites, Mapping):
            raise ValueError("a table [sites.NAME] for each site")
        return sites

    @model_validator(mode="after")
    def _one_or_several_sites(self) -> Self:
        weights = self.markets.weights
        if weights and set(weights) != set(self.sites):
            raise ValueError(
                f"markets.weights needs one for each of [sites]: {', '.join(self.sites) or 'none'}"
            )
        if self.sites:
            first = next(iter(self.sites.values()))
            if "site" in self.model_fields_set and self.site != first:
                raise ValueError("either [site] or [sites.NAME], not both")
            object.__setattr__(self, "site", first)  # pydantic's own way in a frozen model is none
        return self

    @model_validator(mode="after")
    def _household_rules(self) -> Self:
        """Refuse a machine that stays on longer, or draws more when off, than the site's rules allow."""
        control, limits = self.machine.control, self.limits
        apply = any(site.standby_rules for site in (self.site, *self.sites.values()))
        faults = []
        otherwise = "or site.standby_rules = false"
        if apply and control.hold_s > limits.auto_off_s:
            faults.append(
                f"machine.control.hold_s {control.hold_s:g}: at most limits.auto_off_s {limits.auto_off_s:g} "
                f"{otherwise}: {AUTO_OFF_SOURCE}"
            )
        if apply and control.off_W > limits.off_W:
            faults.append(
                f"machine.control.off_W {control.off_W:g}: at most limits.off_W {limits.off_W:g} {otherwise}: "
                f"{OFF_SOURCE}"
            )
        if faults:
            raise ValueError("; ".join(faults))
        return self

    def machines(self) -> dict[str, Floats]:
        """Return the machines of the batch: an array [samples] for each column, calibrated coefficients as well."""
        drawn = samples(self.tolerances, self.site, self.trim)
        if self.calibration is not None:
            drawn |= self.calibration.samples(self.tolerances.samples, self.tolerances.seed)
        return drawn

    def ends(self) -> dict[str, tuple[float, float]]:
        """Return the lowest and the highest value of each column that scatters, see `tolerances.ends`."""
        own = ends(self.tolerances, self.site, self.trim)
        return own | (self.calibration.ends() if self.calibration is not None else {})

    def by_site(self) -> dict[str, Brief]:
        """Return the brief of each site alone, by the site's name; of a single site under an empty one."""
        if not self.sites:
            return {"": self}
        alone = {"sites": {}, "markets": Markets()}
        return {name: self.model_copy(update={"site": site, **alone}) for name, site in self.sites.items()}
