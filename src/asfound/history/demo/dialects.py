"""How each demo logger writes: which files, heads, units, marks, clock; and what went wrong in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np

from asfound.history.channels import Channels, Times, split_channel
from asfound.history.demo.calendar import HOUR, MINUTE, moment
from asfound.history.demo.cells import Cells, numbers, words
from asfound.history.demo.stories_ashgrebe import A2_CELSIUS, A3_REPAIRED
from asfound.history.demo.stories_others import N1_LOGGER
from asfound.quantities.register import quantity
from asfound.quantities.typing import Array
from asfound.sources.tables import load_yaml

BERLIN = "Europe/Berlin"


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """One logger for a while."""

    naming: str
    """Key of ``data/demo_heads.yaml``."""
    until: int
    """Its last row lies before. [µs]"""
    form: str
    """csv, fixed, parquet or spreadsheet."""
    months: int
    """That one file holds."""
    overlap: int = 0
    """Days that the next file has again."""
    separator: str = ","
    mark: str = "."
    time: str = "Y-M-D H:m:s"
    time_head: str = "Time"
    zone: str = "UTC"
    """What its clock shows: UTC, an offset, or a zone with daylight saving."""
    ahead: int = 0
    """How far its clock is ahead. [µs]"""
    units: str = "head"
    """Where the unit stands: in the head, in a row below, or nowhere."""
    preamble: tuple[str, ...] = ()
    missing: str = ""
    states: tuple[str, str] = ("0", "1")
    """Words for stopped and running."""
    encoding: str = "utf-8"
    end: str = "\n"
    damage: bool = True
    """Whether rows are cut, repeated, or hold words for numbers."""
    other_units: Mapping[str, tuple[str, int]] = field(default_factory=dict)
    """Quantity -> unit and decimals where it differs from the naming's."""


_END = moment(49, 400)
DIALECTS: dict[str, tuple[Dialect, ...]] = {
    "A1": (
        Dialect(
            naming="us", form="csv", zone="-06:00", until=_END, months=3, overlap=2,
            time="M/D/Y h:m:s P", missing="-9999", states=("STOP", "RUN"),
            end="\r\n",
        ),
    ),
    "A2": (
        Dialect(
            naming="us", form="csv", zone="-06:00", until=A2_CELSIUS[1], months=6, units="row",
            preamble=("Ashgrebe station, unit 2", "scanner export"), missing="----",
        ),
        Dialect(
            naming="metric", form="csv", until=_END, months=6, zone="-06:00", units="row", missing="----",
            preamble=("Ashgrebe station, unit 2", "scanner export"), time_head="local_time",
        ),
    ),
    "A3": (
        Dialect(
            naming="tags", form="csv", until=A3_REPAIRED, months=1, separator="\t", zone="UTC", ahead=72 * MINUTE,
            time="Y-M-DTH:m:sZ", missing="NaN", units="nowhere",
            other_units={"manifold_pressure": ("inHg", 2), "oil_pressure": ("psi", 1)},
        ),
        Dialect(
            naming="tags", form="csv", until=_END, months=1, separator="\t", zone="UTC", ahead=72 * MINUTE,
            time="Y-M-DTH:m:sZ", missing="NaN", units="head",
        ),
    ),
    "N1": (
        Dialect(
            naming="german", form="csv", until=N1_LOGGER, months=3, separator=";", mark=",", time="D.M.Y H:m:s",
            time_head="Zeit", zone=BERLIN, preamble=("Kraftwerk Norrenthwick;Aggregat 1", ""), units="row",
            states=("AUS", "EIN"), encoding="latin-1", end="\r\n",
        ),
        Dialect(
            naming="tags", form="csv", until=_END, months=3, separator=";", mark=",", time="D.M.Y H:m",
            time_head="Zeitstempel", zone=BERLIN, states=("0", "1"), overlap=1,
        ),
    ),
    "N2": (
        Dialect(
            naming="tags", form="fixed", until=_END, months=12, zone="+01:00", units="row", missing="*",
            time_head="DATUM      ZEIT",
        ),
    ),
    "D1": (Dialect(naming="metric", form="parquet", until=_END, months=12, time_head="time_utc", damage=False),),
    "D2": (Dialect(naming="metric", form="spreadsheet", until=_END, months=6, time_head="time_utc", damage=False),),
}  # fmt: skip
"""By engine, the loggers in the order they were used."""


@cache
def heads(naming: str) -> Mapping[str, Any]:
    """Return quantity -> (head, unit, decimals) of a way of naming."""
    table: Mapping[str, Any] = load_yaml("asfound.history", "data/demo_heads.yaml")[naming]
    return table


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a file."""

    channel: str
    head: str
    unit: str
    decimals: int


def columns(of: Dialect, log: Channels, tag: str) -> tuple[Column, ...]:
    """Return the columns of a logger, those of the running state first."""
    found = []
    for channel in log.values:
        name, place = split_channel(channel)
        name = name.removeprefix("raw:")
        if name not in heads(of.naming):
            continue
        head, unit, decimals = heads(of.naming)[name]
        unit, decimals = of.other_units.get(name, (unit, decimals))
        found.append(Column(channel, _filled(str(head), place, tag), str(unit), int(decimals)))
    return tuple(found)


def _filled(head: str, place: str, tag: str) -> str:
    """Return a head with the place in it; the site of N2 counts its cylinders from the other end."""
    if "{n}" not in head:
        return head
    short = {"engine": "1", "left_bank": "L", "right_bank": "R", "before_catalyst": "2", "after_catalyst": "3"}
    number = short.get(place, place.rpartition("_")[2])
    if tag == "N2" and place.startswith("cylinder_"):
        number = str(10 - int(number))
    return head.replace("{n}", number).strip()


def written(column: Column, value: Array, barometer: Array) -> Array:
    """Return SI values as the numbers of a column's unit; gauge pressures over the barometer of the time."""
    name = column.channel.split("@")[0]
    if name.startswith("raw:"):
        return value
    unit = column.unit
    if unit.endswith(" g"):
        value = value - barometer
    about = quantity(name)
    known = {"1/min": "rpm", "°": "deg"}.get(unit, unit)
    zero, one = about.to_unit(0.0, known), about.to_unit(1.0, known)  # every unit is a factor and an offset
    return np.asarray(zero + (one - zero) * value)


def cells(column: Column, of: Dialect, value: Array, barometer: Array) -> Cells:
    """Return the cells of a column."""
    if column.channel == "raw:running@engine":
        return words((np.nan_to_num(value) > 0).astype(np.int64), of.states, of.encoding)
    return numbers(written(column, value, barometer), column.decimals, mark=of.mark, missing=of.missing)


def local(of: Dialect, time: Times) -> Times:
    """Return what the logger's clock showed. [µs]"""
    shown = time + of.ahead
    if of.zone == "UTC":
        return shown
    if of.zone[0] in "+-":
        return np.asarray(shown + int(of.zone[:3]) * HOUR)
    return np.asarray(shown + _offsets(shown, of.zone))


def _offsets(time: Times, zone: str) -> Times:
    """Return the offset of a zone at each time. [µs]"""
    from datetime import UTC, datetime
    from zoneinfo import ZoneInfo

    hours = time // HOUR
    first, last = int(hours[0]), int(hours[-1])
    every = np.arange(first, last + 1)
    where = ZoneInfo(zone)
    daily = {}
    for hour in [*every[::24].tolist(), last + 24]:
        moment_then = datetime.fromtimestamp(hour * 3600, UTC).astimezone(where)
        daily[hour] = moment_then.utcoffset()
    table = np.empty(len(every), dtype=np.int64)
    marks = sorted(daily)
    for low, high in pairwise(marks):
        span = slice(low - first, min(high - first, len(every)))
        if daily[low] == daily[high]:
            table[span] = _us(daily[low])
            continue
        for hour in range(low, min(high, last + 1)):
            table[hour - first] = _us(datetime.fromtimestamp(hour * 3600, UTC).astimezone(where).utcoffset())
    return np.asarray(table[hours - first])


def _us(offset: Any) -> int:
    seconds: float = offset.total_seconds()
    return round(seconds * 1e6)
