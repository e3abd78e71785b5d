"""The types of arguments that every room shares."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike as ArrayLike
from numpy.typing import NDArray

#: Real numbers; all are float64, which numpy's own annotations do not always say.
Array = NDArray[np.floating[Any]]
Interval = tuple[float, float]
#: What a function that draws takes: a seed, a source of random numbers, or None for a new one.
RandomState = int | np.random.Generator | np.random.RandomState | None
