"""Channels of a log as a reader finds them: titles, groups, units, and which to show first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from asfound.errors import UnknownNameError
from asfound.history.channels import RAW, split_channel
from asfound.history.look_words import unit_of
from asfound.quantities.display import number_text
from asfound.quantities.display import unit_words as words_of_unit
from asfound.quantities.register import quantity
from asfound.quantities.typing import Array
from asfound.report.wording import System, named, natural

if TYPE_CHECKING:
    from asfound.history.look_parts import EngineLook, Indicator

GROUPS = {
    "load": "Load and speed",
    "exhaust": "Mixture and exhaust",
    "cylinders": "Cylinders and bearings",
    "fuel": "Fuel",
    "other": "Water, oil, air",
    "raw": "As the logger calls it",
}
FIRST = (
    "nox_sensor_reading", "oxygen_sensor_reading", "turbine_inlet_temperature", "exhaust_temperature",
    "jacket_water_outlet_temperature", "engine_power", "manifold_pressure",
)  # fmt: skip
"""Shown first where no look says what deserves it."""
OWN = "~"
"""Begins the name of a row that is no channel but a reading watched on a scale of its own."""
MOST, SHOWN = 8, 3
"""Rows that a page shows at most, and by itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One channel as it is shown."""

    name: str
    title: str
    unit: str
    group: str
    quantity: str = ""
    factor: float = 0.0
    """Size of the shown unit in SI, for what has a scale of its own (a difference, a ratio); 0 for all others."""

    def shown(self, values: Array, system: System) -> Array:
        """Return SI values in the unit that is shown; what the logger calls something of its own stays."""
        if not self.quantity:
            return values
        if self.factor:
            shown: Array = values / self.factor
            return shown
        known = quantity(self.quantity)
        found: Array = np.asarray(known.to_unit(values, symbol_of(self.quantity, system)))  # type: ignore[arg-type]
        return found

    def value(self, value: float, system: System) -> str:
        """Return one SI value in words, without its unit."""
        shown = float(self.shown(np.array([value]), system)[0])
        if not self.quantity or self.factor:
            return number_text(shown, 4 if not self.factor else 3)
        known = quantity(self.quantity)
        return number_text(shown, known.digits, known.decimals)


def symbol_of(name: str, system: System) -> str:
    """Return the unit in which a quantity is shown."""
    known = quantity(name)
    return known.display(system)


def channel_of(name: str, system: System) -> Channel:
    """Return a channel as it is shown; one that the register does not know keeps the logger's own words."""
    what, place = split_channel(name)
    if what.startswith(RAW):
        return Channel(name=name, title=what.removeprefix(RAW).replace("_", " "), unit="", group="raw")
    try:
        known = quantity(what)
    except UnknownNameError:
        return Channel(name=name, title=name.replace("_", " "), unit="", group="raw")
    return Channel(
        name=name,
        title=named(what, place),
        unit=words_of_unit(known, symbol_of(what, system)),
        group=known.step if known.step in GROUPS else "other",
        quantity=what,
    )


def own_scale(one: Indicator, look: EngineLook) -> bool:
    """Return whether a watched reading stands on no axis of a channel: a difference, a ratio, or without one."""
    return one.scale != "absolute" or not any(each.channel == one.channel for each in look.channels)


def watched_row(one: Indicator, system: System) -> Channel:
    """Return a watched reading as a row of its own."""
    name, size = unit_of(one, system)
    return Channel(
        name=f"{OWN}{one.key}", title=one.title, unit=name, group="raw", quantity=one.quantity,
        factor=0.0 if one.scale == "absolute" else size,
    )  # fmt: skip


def grouped(names: Iterable[str], system: System) -> list[tuple[str, list[Channel]]]:
    """Return channels by group, in reading order."""
    found: dict[str, list[Channel]] = {key: [] for key in GROUPS}
    for name in names:
        one = channel_of(name, system)
        found[one.group].append(one)
    return [
        (title, sorted(found[key], key=lambda one: natural(one.title))) for key, title in GROUPS.items() if found[key]
    ]


def chosen(asked: Sequence[str], there: Sequence[str], look: EngineLook | None) -> list[str]:
    """Return the channels to show: those asked for that exist, else those that moved most, else leading ones."""
    known = {*there, *(f"{OWN}{one.key}" for one in (look.indicators if look is not None else ()))}
    picked = list(dict.fromkeys(name for name in asked if name in known))[:MOST]
    if picked:
        return picked
    if look is not None:
        order = {"beyond": 0, "near": 1, "moves": 2}
        moving = sorted(
            (one for one in look.indicators if one.judged in order and one.channel in there),
            key=lambda one: (order[one.judged], -one.matters),
        )
        names = (f"{OWN}{one.key}" if own_scale(one, look) else one.channel for one in moving)
        picked = list(dict.fromkeys(names))[:SHOWN]
    for what in FIRST:
        if len(picked) >= SHOWN:
            break
        picked += [name for name in there if split_channel(name)[0] == what and name not in picked][:1]
    return picked or list(there[:SHOWN])
