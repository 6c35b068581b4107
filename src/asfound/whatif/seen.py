"""What a visit says that the model can be held against: readings with their doubt, and that of the model itself."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from asfound.quantities.typing import Array
from asfound.whatif.engine import Outcome, Setting


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """A number that the model gives and a reading may show."""

    name: str
    title: str
    of: Callable[[Outcome], Array]
    model: float
    """Standard uncertainty of the model itself after it was fitted, in the unit or, where log, as a share."""
    log: bool = False
    places: tuple[str, ...] = ("engine",)
    quantity: str = ""
    """Name in the register of quantities; empty where none fits."""

    def compared(self, value: Array) -> Array:
        """Return the number as it is compared: its logarithm where it spans decades."""
        found: Array = np.log(np.maximum(value, 1e-30)) if self.log else value
        return found


OUTPUTS: dict[str, Output] = {
    one.name: one
    for one in (
        Output(name="power", title="Power", of=lambda o: o.power, model=0.015, log=True, quantity="engine_power"),
        Output(name="fuel_flow", title="Fuel flow", of=lambda o: o.fuel_flow, model=0.015, log=True),
        Output(name="efficiency", title="Efficiency at the shaft", of=lambda o: o.efficiency, model=0.01, log=True),
        Output(
            name="exhaust_temperature", title="Exhaust temperature at the ports", of=lambda o: o.exhaust_temperature,
            model=12.0,
        ),
        Output(name="nox_dry", title="NOx, dry", of=lambda o: o.nox_dry, model=0.10, log=True),
        Output(name="oxygen_dry", title="Oxygen, dry", of=lambda o: o.oxygen_dry, model=0.0015),
        Output(name="co_dry", title="CO before the catalyst, dry", of=lambda o: o.co_dry, model=0.35, log=True),
        Output(name="peak_pressure", title="Peak pressure", of=lambda o: o.peak_pressure, model=0.02, log=True),
        Output(name="peak_angle", title="Crank angle of the peak", of=lambda o: o.peak_angle, model=math.radians(1.0)),
        Output(name="air_flow", title="Air flow", of=lambda o: o.air_flow, model=0.02, log=True),
        Output(name="half_burned", title="Half the charge burned", of=lambda o: o.half_burned, model=math.radians(1.0)),
    )
}  # fmt: skip
"""What the model can be held against. The model's own doubts are engineering judgement (no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One number that was read and that the model gives too."""

    output: str
    value: float
    """[SI]"""
    u: float
    """Standard uncertainty of the reading. [SI]"""
    key: str = ""
    """Of the reading or result on the visit."""

    @property
    def doubt(self) -> float:
        """Standard uncertainty of reading and model together, as it is compared."""
        about = OUTPUTS[self.output]
        own = self.u / abs(self.value) if about.log else self.u
        return math.hypot(own, about.model)


Knob = Literal[
    "speed", "manifold_pressure", "charge_temperature", "excess_air_ratio", "timing", "exhaust_pressure", "humidity",
    "residual_temperature",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A setting at which readings were taken; what the setting itself was read with is doubtful too."""

    setting: Setting
    """Best values."""
    u: dict[Knob, float]
    """Standard uncertainty of each part of the setting. [SI]"""
    readings: tuple[Reading, ...]
    fuel: dict[str, float]
    name: str = ""
