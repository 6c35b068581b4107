"""What a balance of an engine is: an equation that would hold if every value were true, and what it needs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from asfound.crosscheck.arrays import Any_
from asfound.crosscheck.engine_point import EnginePoint
from asfound.crosscheck.plant import Plant

Residual = Callable[[EnginePoint], Any_]
MIXTURE = ("heating_value_factor", "gas_richness", "unburned_share", "exhaust_co_dry", "exhaust_nox_dry")
"""What the exhaust of a mole of fuel rests on beside lambda: mostly assumed, or of little weight."""
HUMID = ("ambient_temperature", "relative_humidity", "barometric_pressure")


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineBalance:
    """One balance. Its residual is taken at points, shape (points,), in the unit that ``unit`` names."""

    name: str
    title: str
    """What a person calls it."""
    equation: str
    needs: tuple[str, ...]
    """Values that somebody must have read."""
    formula: Residual
    unit: str
    source: str
    """Key in the register of sources."""
    clause: str = ""
    takes: tuple[str, ...] = ()
    """Further values: read, or assumed."""
    unknowns: tuple[str, ...] = ()
    model: str = ""
    """How well the equation itself holds, in words."""
    possible: Callable[[Plant], bool] = lambda _: True
    """Whether what is known of the engine allows it."""

    @property
    def values(self) -> tuple[str, ...]:
        """All values, each once."""
        return tuple(dict.fromkeys((*self.needs, *self.takes)))


def has_fuel(plant: Plant) -> bool:
    """The gas is analysed."""
    return plant.fuel is not None


def is_lean_burn(plant: Plant) -> bool:
    """The gas is analysed and the engine burns lean."""
    return plant.fuel is not None and not plant.stoichiometric


def is_stoichiometric(plant: Plant) -> bool:
    """The gas is analysed and the engine burns near stoichiometric mixture."""
    return plant.fuel is not None and plant.stoichiometric
