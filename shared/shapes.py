"""Names for the arrays that cross interfaces."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
"""Double precision numbers; the shape stands in the docstring of what uses them."""
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
AnyArray = NDArray[Any]
