"""Refusals that two readings bring about together, where each alone could be."""

from __future__ import annotations

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Values


def rising(quantity: str, low: Values, high: Values, because: str, allowed: str, try_next: str) -> None:
    """Refuse two readings whose best values stand the wrong way round.

    Parameters
    ----------
    quantity : str
        The second of them, whose field is named.
    low, high : float or array
        Best value first, draws after it.
    because, allowed, try_next : str
        What is wrong, what would be right, what to do at the engine.

    Raises
    ------
    InputError
        The best value of ``high`` is below that of ``low``.
    """
    first, second = float(np.ravel(low)[0]), float(np.ravel(high)[0])
    if second < first:
        raise InputError(quantity, f"{second:.6g}", because, allowed=allowed, try_next=try_next)
