"""The thermal model of a machine: physics, duty, figures, cost, tolerances.

`evaluate` rates a design, `simulate` returns its traces; both take and return public names with units.
Names are imported when they are first asked for, so that reading the glossary starts no compiler.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from boilerfront.model.glossary import COLUMNS, FIGURES, MARGINS, OBJECTIVES, Column
from boilerfront.model.kernel.cache import use_cache_folder
from boilerfront.model.variables import VARIABLES, Variable

if TYPE_CHECKING:
    from boilerfront.model.architectures import ARCHITECTURES
    from boilerfront.model.brief import Brief
    from boilerfront.model.duty import Duty
    from boilerfront.model.markets import evaluate_many
    from boilerfront.model.prices import PriceBook, read_price_book
    from boilerfront.model.rating import evaluate
    from boilerfront.model.site import Site
    from boilerfront.model.traces import Trace, simulate

__all__ = [
    "ARCHITECTURES",
    "COLUMNS",
    "FIGURES",
    "MARGINS",
    "OBJECTIVES",
    "VARIABLES",
    "Brief",
    "Column",
    "Duty",
    "PriceBook",
    "Site",
    "Trace",
    "Variable",
    "evaluate",
    "evaluate_many",
    "read_price_book",
    "simulate",
]

use_cache_folder()  # before the first kernel is imported

_HOME = {
    "ARCHITECTURES": "architectures",
    "Brief": "brief",
    "Duty": "duty",
    "PriceBook": "prices",
    "Site": "site",
    "Trace": "traces",
    "evaluate": "rating",
    "evaluate_many": "markets",
    "read_price_book": "prices",
    "simulate": "traces",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'boilerfront.model' has no attribute '{name}'")
    return getattr(importlib.import_module(f"boilerfront.model.{_HOME[name]}"), name)
