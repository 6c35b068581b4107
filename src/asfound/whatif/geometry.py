"""Volume and wall area of a cylinder along the crank."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array


@dataclass(frozen=True, slots=True)
class Geometry:
    """Sizes of one cylinder for each case; arrays of shape (cases,) or (1,). [m], [1]"""

    bore: Array
    stroke: Array
    rod: Array
    """Length of the connecting rod; infinite for pure sine motion."""
    compression_ratio: Array

    @property
    def displacement(self) -> Array:
        """[m³]"""
        swept: Array = np.pi / 4 * self.bore**2 * self.stroke
        return swept

    @property
    def clearance(self) -> Array:
        """Volume at top dead centre. [m³]"""
        return self.displacement / (self.compression_ratio - 1.0)

    def travel(self, angle: Array) -> Array:
        """Return how far the piston is below top dead centre. [m]

        Parameters
        ----------
        angle : array
            Crank angle after firing top dead centre. [rad]
        """
        crank = self.stroke / 2
        turned = 1.0 - np.cos(angle)
        across = crank * np.sin(angle)
        # rod - sqrt(rod² - across²), written so that an endless rod gives nought and not inf - inf
        tilt = across * across / (self.rod + np.sqrt(self.rod**2 - across * across))
        return crank * turned + np.where(np.isinf(self.rod), 0.0, tilt)

    def volume(self, angle: Array) -> Array:
        """Return the volume of the cylinder. [m³]"""
        return self.clearance + np.pi / 4 * self.bore**2 * self.travel(angle)

    def wall(self, angle: Array) -> Array:
        """Return the area of head, piston and wetted liner. [m²]"""
        area: Array = np.pi / 2 * self.bore**2 + np.pi * self.bore * (
            self.travel(angle) + 4 * self.clearance / (np.pi * self.bore**2)
        )
        return area
