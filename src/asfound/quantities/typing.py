"""The one type that formulas take: a float at the best values, or an array over draws, engines or times."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

Array: TypeAlias = npt.NDArray[np.float64]
Values: TypeAlias = float | Array
