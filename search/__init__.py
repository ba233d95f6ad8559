"""The search: the design space, the sampler, the archive. Knows nothing of clusters or files."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from boilerfront.search.planner import Told
from boilerfront.search.space import Choice, Float, Int, Space

if TYPE_CHECKING:
    from boilerfront.search.sampler import FrontSampler

__all__ = ["Choice", "Float", "FrontSampler", "Int", "Space", "Told"]


def __getattr__(name: str) -> Any:
    """Import the sampler, and with it optuna, only when somebody wants it."""
    if name == "FrontSampler":
        from boilerfront.search.sampler import FrontSampler

        return FrontSampler
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
