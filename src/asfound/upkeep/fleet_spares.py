"""Spares to hold for a fleet: from what failed on record, how long a part takes to come, and how surely it is wanted.

Parts that fail at random only, one apart from the other: what wears out is taken out by its interval and ordered with
the stop. Where little was watched the rate is hardly known: the stock stands beside that of the rate's upper limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from asfound.errors import InputError
from asfound.sources.tables import load_yaml_lines
from asfound.upkeep.repairs import mtbf_limits
from asfound.upkeep.spares import Shelf, shelf, shelf_for

if TYPE_CHECKING:
    from asfound.sources.yaml_lines import Node

_PART = ("part", "item", "on_each", "engines", "lead_days", "wanted", "on_shelf", "source", "note")
UNSEEN = 0.5
"""Failures that stand for 'none yet' in the middle rate (Jeffreys)."""
PER = ("engine", "cylinder")


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldPart:
    """A part that could be held."""

    part: str
    item: str
    """What failures and work orders call it."""
    per: str
    """``engine`` or ``cylinder``."""
    number: int
    """How many sit on one of them."""
    engines: tuple[str, ...]
    """Tags; empty: all."""
    lead_days: float
    wanted: float
    """Share of demands that the shelf must serve at once. [1]"""
    on_shelf: int | None
    source: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetEngine:
    """What the stock needs to know of an engine."""

    tag: str
    cylinders: int
    hours: float
    """Running hours in which every failure was recorded."""
    per_day: float
    """Running hours a day from now on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """How many of a part to hold."""

    part: HeldPart
    places: int
    """Parts that are in use on all engines."""
    failures: int
    hours: float
    """Part-hours watched."""
    rate: float
    """Middle of the rate, failures in 1000 part-hours."""
    rate_low: float
    rate_high: float
    """90 in 100."""
    demand: float
    """Mean demand while an order is on its way."""
    hold: Shelf
    hold_high: Shelf
    """At the upper limit of the rate."""
    now: Shelf | None
    """What lies on the shelf today gives."""

    @property
    def says(self) -> str:
        """The stock in words."""
        seen = f"{self.failures} failed in {self.hours:,.0f} part-hours" if self.failures else (
            f"none failed in {self.hours:,.0f} part-hours"
        )  # fmt: skip
        span = f"{self.hold.stock}" if self.hold.stock == self.hold_high.stock else (
            f"{self.hold.stock} to {self.hold_high.stock}"
        )  # fmt: skip
        return f"Hold {span}: {seen}; {self.demand:.2g} wanted on average while an order is on its way."


def stocks(
    parts: tuple[HeldPart, ...], engines: tuple[FleetEngine, ...], failures: Mapping[tuple[str, str], int]
) -> tuple[Stock, ...]:
    """Return the stock of each part.

    Parameters
    ----------
    parts : tuple of HeldPart
    engines : tuple of FleetEngine
    failures : mapping of (tag, item) to int
        Failures and exchanges on record within the hours watched.

    Raises
    ------
    InputError
        A part names an engine that is not there, or no hours were watched on its engines.
    """
    return tuple(_stock(one, engines, failures) for one in parts)


def _stock(part: HeldPart, engines: tuple[FleetEngine, ...], failures: Mapping[tuple[str, str], int]) -> Stock:
    known = {one.tag: one for one in engines}
    for tag in part.engines:
        if tag not in known:
            raise InputError("engines", tag, "is no engine of this home", allowed=", ".join(known))
    on = [known[tag] for tag in part.engines] if part.engines else list(engines)
    each = {one.tag: part.number * (one.cylinders if part.per == "cylinder" else 1) for one in on}
    hours = sum(each[one.tag] * one.hours for one in on)
    if not hours > 0:
        raise InputError(
            part.part, "0 h", "was watched on no engine", allowed="running hours of one engine or more",
            try_next="Type the hour meter on a visit, and note failures as they come.",
        )  # fmt: skip
    seen = sum(failures.get((one.tag, part.item), 0) for one in on)
    limits = mtbf_limits(hours, seen, level=0.9)
    rate = (seen + UNSEEN) / hours
    high = 1.0 / limits.lower
    low = 0.0 if limits.upper is None else 1.0 / limits.upper
    ahead = part.lead_days * sum(each[one.tag] * one.per_day for one in on)
    return Stock(
        part=part, places=sum(each.values()), failures=seen, hours=hours, rate=1000 * rate, rate_low=1000 * low,
        rate_high=1000 * high, demand=rate * ahead, hold=shelf_for(rate * ahead, fill=part.wanted),
        hold_high=shelf_for(high * ahead, fill=part.wanted),
        now=None if part.on_shelf is None else shelf(rate * ahead, part.on_shelf),
    )  # fmt: skip


@cache
def example_parts() -> tuple[HeldPart, ...]:
    """Return the packaged example; lead times and what is wanted are the company's to say."""
    return _read(load_yaml_lines("asfound.upkeep", "data/spares.yaml"))


def read_parts(text_or_path: str | Path, *, file: str = "") -> tuple[HeldPart, ...]:
    """Return the parts of a file.

    Raises
    ------
    KnowledgeError
        With file and line: a key unknown or missing, a number out of range.
    """
    from asfound.sources import yaml_lines  # PyYAML costs 20 ms at every start

    return _read(yaml_lines.load(text_or_path, file=file))


def _read(root: Node) -> tuple[HeldPart, ...]:
    root.only("parts")
    return tuple(_part(row) for row in root.want("parts")[0].items())


def _part(row: Node) -> HeldPart:
    row.only(*_PART)
    part, item, lead, wanted, source = row.want("part", "item", "lead_days", "wanted", "source")
    each, shelf_now, note = row.get("on_each"), row.get("on_shelf"), row.get("note")
    number, per = 1, "engine"
    if each is not None:
        each.only("number", "per")
        count, of = each.want("number", "per")
        number, per = int(count.number(low=1.0, high=200.0)), of.one_of(PER)
    tags = row.get("engines")
    return HeldPart(
        part=part.text(), item=item.text(), per=per, number=number,
        engines=() if tags is None else tuple(one.text() for one in tags.items()),
        lead_days=lead.number(low=0.1, high=1500.0), wanted=wanted.number(low=0.5, high=0.9999),
        on_shelf=None if shelf_now is None else int(shelf_now.number(low=0.0, high=100000.0)), source=source.text(),
        note="" if note is None else note.text(),
    )  # fmt: skip
