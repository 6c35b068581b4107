"""How temperatures follow a start and a stop, for a whole log at once."""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Array


class Warmth:
    """Steps since the engine last started or stopped.

    Parameters
    ----------
    running : array (n,)
        1 where it runs.
    """

    def __init__(self, running: Array) -> None:
        self.on = running > 0
        number = np.arange(len(running))
        changed = np.empty(len(running), dtype=bool)
        changed[0] = True
        changed[1:] = self.on[1:] != self.on[:-1]
        self.last = np.maximum.accumulate(np.where(changed, number, 0))
        """Index of the step of the last change."""
        self.since = (number - self.last + 0.5) * 600.0
        """[s]"""
        self.since[self.last == 0] += 1e6  # the log opens on an engine that has been so for long

    def follow(self, hot: Array, cold: Array, heating: float, cooling: float) -> Array:
        """Return what goes to ``hot`` while running and back to ``cold`` when not, with time constants in seconds."""
        before = np.maximum(self.last - 1, 0)
        up = np.exp(-self.since / heating)
        down = np.exp(-self.since / cooling)
        stood = self.since[before]  # how long the state before had lasted
        left = np.exp(-stood / cooling)  # heat still there at a start after a short stop
        from_cold = hot - (hot - cold) * up * (1 - left)
        return np.asarray(np.where(self.on, from_cold, cold + (hot[before] - cold) * down), dtype=float)

    def only(self, value: Array, stopped: Array | float = 0.0) -> Array:
        """Return the value while running, ``stopped`` when not."""
        return np.asarray(np.where(self.on, value, stopped), dtype=float)
