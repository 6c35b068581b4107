"""What drives a demo engine at every step, before any sensor looks at it; the stories change it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from asfound.history.channels import Times
from asfound.history.demo import air, duty
from asfound.history.demo.calendar import axis
from asfound.history.demo.chance import stream, wander
from asfound.history.demo.fleet import Spec
from asfound.history.demo.planted import AlarmEntry, Planted, Stay
from asfound.quantities.typing import Array


@dataclass(slots=True, kw_only=True)
class Cause:
    """State of an engine along the time axis, arrays (n,) in SI."""

    spec: Spec
    seed: int
    time: Times
    stays: tuple[Stay, ...]
    running: Array
    load: Array
    """Share of rated power while running."""
    swing: Array
    """Standard deviation of the load within a step, share of rated power."""
    ambient: Array
    barometer: Array
    humidity: Array
    lean: Array
    """Excess-air ratio that the cylinders get."""
    second_gas: Array
    """0 on the first gas, 1 on the second."""
    h2s: Array
    """In the gas. [mol/mol]"""
    retard: Array
    """[rad]"""
    knock: Array
    """Knock level, share of full scale."""
    misfire: dict[str, Array] = field(default_factory=dict)
    """By cylinder: share of its cycles that do not burn."""
    conversion: Array = field(default_factory=lambda: np.zeros(0))
    """Of CO over the catalyst."""
    fouled: Array = field(default_factory=lambda: np.zeros(0))
    """What a fouled radiator adds to the jacket water. [K]"""
    deposits: Array = field(default_factory=lambda: np.zeros(0))
    """Growth of the catalyst's pressure drop, share."""
    governor: Array = field(default_factory=lambda: np.ones(0))
    """Answer of the speed to a swing of the load, 1 with the documented gains."""
    truth: list[Planted] = field(default_factory=list)
    alarms: list[AlarmEntry] = field(default_factory=list)

    def random(self, subject: str) -> np.random.Generator:
        """Return this engine's random stream of a subject."""
        return stream(self.seed, self.spec.tag, subject)

    def between(self, start: int, end: int) -> Array:
        """Return 1 from ``start`` up to ``end``. (n,)"""
        return ((self.time >= start) & (self.time < end)).astype(float)

    def ramp(self, start: int, end: int) -> Array:
        """Return 0 before ``start``, rising evenly to 1 at ``end``, and 1 from there on. (n,)"""
        return np.clip((self.time - start) / (end - start), 0.0, 1.0)

    def tell(self, kind: str, channel: str, start: int, end: int, size: float, unit: str, says: str) -> None:
        """Write down what is planted."""
        self.truth.append(
            Planted(
                engine=self.spec.tag, kind=kind, channel=channel, start=start, end=end, size=size, unit=unit, says=says
            )
        )


def sound(spec: Spec, seed: int, fixed: tuple[Stay, ...]) -> Cause:
    """Return the engine as it would be without a story; ``fixed`` are the stops of the story."""
    time = axis()
    n = len(time)
    step = int(time[1] - time[0])
    table = duty.stays(spec, seed, int(time[0]), int(time[-1]) + step, fixed)
    ambient, barometer, humidity = air.air(spec, seed, time)
    share, swing = duty.load(spec, seed, time)
    from asfound.history.demo.fleet import gas

    random = stream(seed, spec.tag, "mixture")
    tight = 0.004 if spec.lean > 1.2 else 0.0008
    return Cause(
        spec=spec,
        seed=seed,
        time=time,
        stays=table,
        running=duty.running(time, table),
        load=share,
        swing=swing,
        ambient=ambient,
        barometer=barometer,
        humidity=humidity,
        lean=spec.lean + wander(random, n, 24, tight),
        second_gas=np.zeros(n),
        h2s=np.full(n, gas(spec.gas).h2s),
        retard=np.zeros(n),
        knock=np.clip(0.06 + 0.02 * stream(seed, spec.tag, "knock").standard_normal(n), 0.0, 1.0),
        conversion=np.full(n, 0.88 if spec.catalyst else 0.0),
        fouled=np.zeros(n),
        deposits=np.zeros(n),
        governor=np.ones(n),
    )
