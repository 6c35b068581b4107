"""What is watched in a log: the table, and which of its rows a log has channels for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from asfound.history.channels import split_channel
from asfound.quantities.plan import in_number_order
from asfound.sources.tables import load_yaml

POWER = ("engine_power@engine", "generator_power@generator", "generator_power@engine", "engine_power@generator")
"""Channels of load, the first that is there."""
KNOWN = ("engine", "site", "stack", "fuel", "before_catalyst", "after_catalyst", "left_bank", "right_bank")


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """One row of the table."""

    key: str
    title: str
    quantity: str
    make: str
    group: str
    wanted: str
    matters: float
    sees: str
    effects: tuple[str, ...]
    share: bool = False
    minus: str = ""
    over: str = ""
    limit: float | None = None
    above: bool = True
    limit_why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A row of the table in an engine: which channels make it."""

    watched: Watched
    channel: str
    others: tuple[str, ...] = ()
    """Its bank, its group, or what is taken off or divided by."""
    several: bool = False
    """Whether the quantity is logged at several places."""

    @property
    def scale(self) -> str:
        """Whether it is on the scale of its channel, a difference, or a ratio; see `Indicator.scale`."""
        return {"value": "absolute", "per": "ratio", "swing": "ratio"}.get(self.watched.make, "difference")

    @property
    def over(self) -> str:
        """Quantity that a ratio is over; empty for what is none."""
        return split_channel(self.others[0])[0] if self.scale == "ratio" and self.others else ""

    @property
    def place(self) -> str:
        """Where it is."""
        return split_channel(self.channel)[1]

    @property
    def key(self) -> str:
        """``nox``, or ``exhaust_temperature@cylinder_3`` where there are several."""
        return f"{self.watched.key}@{self.place}" if self.several else self.watched.key

    @property
    def title(self) -> str:
        """The title with the place in it."""
        number = self.place.partition("_")[2]
        if "{n}" in self.watched.title:
            return self.watched.title.replace("{n}", number)
        return f"{self.watched.title}, {self.place.replace('_', ' ')}" if self.several else self.watched.title


@cache
def watched() -> tuple[Watched, ...]:
    """Return the table."""
    rows: list[dict[str, Any]] = load_yaml("asfound.history", "data/watched.yaml")["watched"]
    return tuple(_row(dict(row)) for row in rows)


def _row(given: dict[str, Any]) -> Watched:
    limit = given.pop("limit", None)
    given["effects"] = tuple(given.get("effects", ()))
    given["matters"] = float(given["matters"])
    if limit:
        given |= {"limit": float(limit["value"]), "above": bool(limit["above"]), "limit_why": str(limit["why"])}
    return Watched(**given)


def in_log(channels: Iterable[str]) -> tuple[Made, ...]:
    """Return what can be watched in a log with these channels, in the order of the table and of the places."""
    names = sorted(channels, key=lambda name: in_number_order(split_channel(name)[1]))
    return tuple(made for row in watched() for made in _of(row, names))


def _of(row: Watched, names: list[str]) -> Iterator[Made]:
    own = [name for name in names if split_channel(name)[0] == row.quantity]
    for name in own:
        place = split_channel(name)[1]
        others: tuple[str, ...] = ()
        if row.make in ("bank", "group"):
            others = tuple(one for one in own if row.make == "group" or _bank(one) == _bank(name))
            if len(others) < 3:
                continue
        elif row.make == "less":
            others = (f"{row.minus}@{place}",)
        elif row.make in ("per", "swing"):
            others = tuple(one for one in POWER if one in names)[:1] if row.over == "power" else (row.over,)
        if row.make in ("less", "per", "swing") and (not others or others[0] not in names):
            continue
        yield Made(watched=row, channel=name, others=others, several=len(own) > 1)


def _bank(channel: str) -> str:
    """Return the bank of a cylinder by its letter; an engine in line is one."""
    letter = split_channel(channel)[1].removeprefix("cylinder_")[:1]
    return letter if letter in ("L", "R", "A", "B") else ""
