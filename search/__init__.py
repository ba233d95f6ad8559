"""The search: the design space, the sampler, the archive. Knows nothing of clusters or files."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from boilerfront.search.space import Choice, Float, Int, Space

if TYPE_CHECKING:
    from boilerfront.search.sampler import FrontSampler, Told

__all__ = ["Choice", "Float", "FrontSampler", "Int", "Space", "Told"]


def __getattr__(name: str) -> Any:
    """Import the sampler, and with it optuna and the compiler, only when somebody wants it."""
    if name in ("FrontSampler", "Told"):
        from boilerfront.search import sampler

        return getattr(sampler, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
