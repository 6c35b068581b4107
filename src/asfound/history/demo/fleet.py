"""What the demo data know of the seven engines, their sites and gases."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from asfound.history.demo.calendar import of_text
from asfound.sources.tables import load_yaml

ENGINES = ("A1", "A2", "A3", "N1", "N2", "D1", "D2")


@dataclass(frozen=True, slots=True, kw_only=True)
class Gas:
    """Per mole of gas."""

    heat: float
    """Net heat of burning. [J/mol]"""
    air: float
    """Dry air without excess. [mol/mol]"""
    dry: float
    """Dry exhaust without excess air. [mol/mol]"""
    water: float
    """Water that the gas burns to. [mol/mol]"""
    methane: float
    """[mol/mol]"""
    h2s: float
    """[mol/mol]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """Air of a site."""

    height: float
    """[m]"""
    mean: float
    """Of the year. [°C]"""
    year: float
    """Amplitude over the year. [K]"""
    day: float
    """Amplitude over the day. [K]"""
    weather: float
    """Standard deviation of what the weather adds. [K]"""
    humidity: float
    """Mean relative humidity. [1]"""
    offset_hours: float
    """Of local winter time from UTC. [h]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """An engine at its usual load and 15 °C ambient."""

    tag: str
    site_name: str
    site: Site
    power: float
    """Rated. [W]"""
    speed: float
    """Rated. [rad/s]"""
    gas: str
    lean: float
    """Excess-air ratio. [1]"""
    load: float
    """Usual share of rated power. [1]"""
    duty: str
    """compressor, island, base or biogas."""
    cylinders: tuple[str, ...]
    bearings: int
    banks: tuple[str, ...]
    oxygen: tuple[str, ...]
    """Places of its oxygen sensors."""
    nox: float
    """In the exhaust, in ``nox_unit``."""
    nox_unit: str
    """g/hp-h, or mg/m3 at 5 % oxygen, dry."""
    nox_sensor: bool
    efficiency: float
    manifold: float
    """Absolute. [Pa]"""
    exhaust: float
    """After the cylinders. [K]"""
    turbine: float
    """Before the turbine. [K]"""
    turbine_drop: float
    """[K]"""
    catalyst: bool
    rise: float
    """Of the temperature over the catalyst. [K]"""
    timing: float
    """[rad]"""
    hours_at: int
    """When the counter was read. [µs]"""
    hours: float
    """What the counter would read then had it never been replaced. [s]"""
    controls: tuple[str, ...]
    """Which positions its controls show."""


@cache
def _file() -> dict[str, Any]:
    table: dict[str, Any] = load_yaml("asfound.history", "data/demo_fleet.yaml")
    return table


@cache
def gas(name: str) -> Gas:
    """Return a gas of the demo world."""
    return Gas(**{key: float(value) for key, value in _file()["gases"][name].items()})


@cache
def spec(tag: str) -> Spec:
    """Return what the demo data know of an engine."""
    row = _file()["engines"][tag]
    site = _file()["sites"][row["site"]]
    return Spec(
        tag=tag,
        site_name=row["site"],
        site=Site(**{key: float(value) for key, value in site.items()}),
        power=row["power"] * 1e3,
        speed=row["speed"] * 2 * np.pi / 60,
        gas=row["gas"],
        lean=row["lean"],
        load=row["load"],
        duty=row["duty"],
        cylinders=tuple(str(name) for name in row["cylinders"]),
        bearings=row["bearings"],
        banks=tuple(row["banks"]),
        oxygen=tuple(row["oxygen"]),
        nox=row["nox"],
        nox_unit=row["nox_unit"],
        nox_sensor=row["nox_sensor"],
        efficiency=row["efficiency"],
        manifold=row["manifold"] * 1e3,
        exhaust=row["exhaust"] + 273.15,
        turbine=row["turbine"] + 273.15,
        turbine_drop=row["turbine_drop"],
        catalyst=row["catalyst"],
        rise=row.get("rise", 0.0),
        timing=np.deg2rad(row["timing"]),
        hours_at=of_text(row["hours"]["at"]),
        hours=row["hours"]["reads"] * 3600.0,
        controls=tuple(row["controls"]),
    )
