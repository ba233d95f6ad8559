"""The one way in which this floor compiles a function of floats, with its type kept for the type checker."""

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., Any])


def compiled(function: F) -> F:
    """Compile with numba, kept on disk; division by zero gives inf or nan, never an exception."""
    return cast(F, njit(cache=True, error_model="numpy")(function))
