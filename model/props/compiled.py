"""The one way in which this floor compiles a function of floats, with its type kept for the type checker."""

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., Any])

ARITHMETIC: dict[str, Any] = {"error_model": "numpy", "fastmath": {"contract"}}
"""Division by zero gives inf or nan, never an exception; a product and a sum may become one operation with one
rounding; nothing else is rearranged.

Every compiled function of this floor has it, the big ones too: numba makes a helper like that of `x ** 4` once, with
the options of the function that asks first, and with two sets of options the bits would depend on what came first.
"""


def compiled(function: F) -> F:
    """Compile with numba and keep the result on disk, with ARITHMETIC.

    The function may read and write arrays but make none: no references are counted, which would cost more
    than most of these functions.
    """
    unlisted: dict[str, Any] = {"_nrt": False, "forceinline": True}  # numba's types know no `_nrt`
    return cast(F, njit(cache=True, **unlisted, **ARITHMETIC)(function))


def compiled_making_arrays(function: F) -> F:
    """As `compiled`, for the few functions that make arrays."""
    return cast(F, njit(cache=True, **ARITHMETIC)(function))
