"""The one way in which this floor compiles a function of floats, with its type kept for the type checker."""

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., Any])


def compiled(function: F) -> F:
    """Compile with numba and keep the result on disk; division by zero gives inf or nan, never an exception.

    A product and a sum may become one operation with one rounding; nothing else is rearranged.

    The function may read and write arrays but make none: no references are counted, which would cost more
    than most of these functions.
    """
    options: dict[str, Any] = {
        "cache": True,
        "error_model": "numpy",
        "fastmath": {"contract"},
        "_nrt": False,
        "forceinline": True,
    }
    return cast(F, njit(**options)(function))


def compiled_making_arrays(function: F) -> F:
    """As `compiled`, for the few functions that make arrays."""
    return cast(F, njit(cache=True, error_model="numpy")(function))
