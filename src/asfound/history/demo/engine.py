"""From load, air, mixture and what is wrong to every number that an engine shows: balances with invented constants.

Fuel follows from power and efficiency, exhaust oxygen and flow from the mixture, NOx from the mixture by an exponential
law, temperatures from load, air, mixture and timing. Only the constants are invented; mass and energy hold together.
"""

from __future__ import annotations

import numpy as np

from asfound.history.demo.cause import Cause
from asfound.history.demo.fleet import Gas, gas
from asfound.history.demo.warmth import Warmth
from asfound.quantities.typing import Array

OXYGEN = 0.20939
"""In dry air. [mol/mol]"""
MOLAR_VOLUME = 0.022414
"""At 0 °C and 101.325 kPa. [m3/mol]"""
MASS_NO2 = 46.0055e-3
"""NOx is counted as NO2. [kg/mol]"""
HP_HOUR = 2.684520e6
"""[J]"""
NOX_BY_MIXTURE = -9.109
"""Change of ln NOx with the excess-air ratio of a lean engine: 0.55 to 0.95 g/hp-h from 1.72 to 1.66."""
HEAT_BY_MIXTURE = -240.0
"""Exhaust temperature with the excess-air ratio, lean. [K]"""
PATTERN = 9.0
"""Standard deviation of the cylinders' constant pattern. [K]"""
MISFIRE_COLD = 250.0
"""How far a cylinder falls that does not burn at all; one that burns half the time still 90 K and more. [K]"""

Signals = dict[str, Array]


def signals(cause: Cause) -> tuple[Signals, Signals]:
    """Return what sound sensors would show by channel, and what no sensor shows. Arrays (n,), SI."""
    warmth = Warmth(cause.running)
    shown: Signals = {}
    actual: Signals = {}
    _load(cause, warmth, shown)
    _mixture(cause, warmth, shown, actual)
    _intake(cause, warmth, shown)
    _exhaust(cause, warmth, shown)
    _liquids(cause, warmth, shown)
    _controls(cause, warmth, shown)
    return shown, actual


def _load(cause: Cause, warmth: Warmth, shown: Signals) -> None:
    spec, random = cause.spec, cause.random("speed")
    n = len(cause.time)
    shown["raw:running@engine"] = cause.running
    shown["ambient_temperature@site"] = cause.ambient
    shown["barometric_pressure@site"] = cause.barometer
    shown["relative_humidity@site"] = cause.humidity
    place = "engine_power@engine" if spec.duty == "compressor" else "generator_power@generator"
    share = np.where((warmth.since < 900) & warmth.on, 0.6 * cause.load, cause.load)
    cause.load = share
    shown[place] = warmth.only(share * spec.power)
    answer = -0.02 * cause.governor * (np.diff(share, prepend=share[0]))
    wobble = 0.0008 + 0.10 * cause.governor * cause.swing * (cause.swing > 0.01)
    shown["engine_speed@engine"] = warmth.only(spec.speed * (1 + answer + wobble * random.standard_normal(n)))


def _mixture(cause: Cause, warmth: Warmth, shown: Signals, actual: Signals) -> None:
    spec, n = cause.spec, len(cause.time)
    burnt = gas(spec.gas)
    other = gas("G2") if spec.gas == "G1" else burnt
    mixed = {
        name: getattr(burnt, name) + cause.second_gas * (getattr(other, name) - getattr(burnt, name))
        for name in Gas.__dataclass_fields__
    }
    idle = sum(cause.misfire.values(), np.zeros(n)) / len(spec.cylinders)
    efficiency = spec.efficiency * (1 - 0.10 * (spec.load - cause.load)) * (1 - 0.16 * cause.retard) * (1 - idle)
    moles = cause.load * spec.power / efficiency / mixed["heat"]
    shown["fuel_flow@engine"] = warmth.only(moles * MOLAR_VOLUME)
    excess = np.maximum(cause.lean - 1, 0.0)
    dry = mixed["dry"] + excess * mixed["air"] + idle * mixed["air"] * 0.2
    leftover = 0.006 if spec.lean < 1.2 else 0.0
    oxygen = (OXYGEN * mixed["air"] * (excess + idle)) / dry + leftover
    humid = _humidity(cause) / 0.622
    water = mixed["water"] + cause.lean * mixed["air"] * humid
    wet = oxygen * dry / (dry + water)
    after = np.maximum(wet - (0.0035 if spec.catalyst and spec.lean < 1.2 else 0.0), 1e-4)
    for place in spec.oxygen:
        shown[f"oxygen_sensor_reading@{place}"] = warmth.only(after if place == "after_catalyst" else wet, 0.205)
    nox = _nox(cause, moles * dry, oxygen)
    actual["exhaust_nox_dry@stack"] = warmth.only(nox, np.nan)
    actual["exhaust_oxygen_dry@stack"] = warmth.only(oxygen, np.nan)
    actual["excess_air_ratio@stack"] = warmth.only(cause.lean, np.nan)
    flow = moles * dry * nox * MASS_NO2
    actual["nox_mass_per_energy@stack"] = warmth.only(flow / (cause.load * spec.power), np.nan)
    actual["nox_mass_concentration@stack"] = warmth.only(
        nox * MASS_NO2 / MOLAR_VOLUME * (OXYGEN - 0.05) / np.maximum(OXYGEN - oxygen, 1e-3), np.nan
    )
    actual["catalyst_conversion_co@engine"] = cause.conversion
    if spec.nox_sensor:
        shown["nox_sensor_reading@stack"] = warmth.only(nox, 0.0)
    if spec.site_name == "dunmirrow":
        shown["fuel_methane@fuel"] = np.clip(mixed["methane"] + 0.006 * cause.random("gas").standard_normal(n), 0, 1)
        shown["fuel_hydrogen_sulfide@fuel"] = cause.h2s


def _humidity(cause: Cause) -> Array:
    """Return water in the air by the Magnus formula. [kg/kg]"""
    celsius = cause.ambient - 273.15
    vapour = cause.humidity * 611.2 * np.exp(17.62 * celsius / (243.12 + celsius))
    return np.asarray(0.622 * vapour / (cause.barometer - vapour))


def _nox(cause: Cause, dry_flow: Array, oxygen: Array) -> Array:
    """Return NOx in the dry exhaust. [mol/mol]"""
    spec = cause.spec
    by_mixture = NOX_BY_MIXTURE if spec.lean > 1.2 else 25.0
    change = by_mixture * (cause.lean - spec.lean) - 2.0 * cause.retard
    change = change + 0.004 * (cause.ambient - 288.15) - 12.0 * (_humidity(cause) - 0.0075)
    factor = np.exp(change)
    if spec.tag == "D2":  # its trim holds what the probe shows, whatever the air does
        factor = np.exp(by_mixture * (cause.lean - spec.lean))
    if spec.nox_unit == "g/hp-h":
        return np.asarray(spec.nox * 1e-3 / HP_HOUR * factor * cause.load * spec.power / (dry_flow * MASS_NO2))
    at_five = spec.nox * 1e-6 * factor / MASS_NO2 * MOLAR_VOLUME
    return np.asarray(at_five * (OXYGEN - oxygen) / (OXYGEN - 0.05))


def _intake(cause: Cause, warmth: Warmth, shown: Signals) -> None:
    spec, random, n = cause.spec, cause.random("intake"), len(cause.time)
    cooler = 318.15 + 0.30 * (cause.ambient - 288.15) + 8 * (cause.load - spec.load)
    for number, bank in enumerate(spec.banks):
        shown[f"manifold_temperature@{bank}"] = warmth.follow(cooler + 0.8 * number, cause.ambient, 1500, 9000)
        share = (cause.load / spec.load) * np.where(spec.lean > 1.2, cause.lean / spec.lean, 1.0) * (cooler / 318.15)
        share = share * (1 + 0.10 * cause.retard) * (1 + 0.004 * number)
        level = spec.manifold * share + 300 * random.standard_normal(n)
        shown[f"manifold_pressure@{bank}"] = warmth.only(level, cause.barometer)
    shown["fuel_pressure@engine"] = cause.barometer + 265e3 + wander_of(cause, "fuel pressure", 6e3)
    shown["fuel_temperature@engine"] = 288.15 + 0.6 * (cause.ambient - 288.15) + wander_of(cause, "fuel t", 0.8)


def wander_of(cause: Cause, subject: str, size: float) -> Array:
    """Return slow noise of a subject. (n,)"""
    from asfound.history.demo.chance import wander

    return wander(cause.random(subject), len(cause.time), 36, size)


def _exhaust(cause: Cause, warmth: Warmth, shown: Signals) -> None:
    spec, random, n = cause.spec, cause.random("exhaust"), len(cause.time)
    pattern = PATTERN * random.standard_normal(len(spec.cylinders))
    slope = 60.0 if spec.lean > 1.2 else 120.0
    own = slope * (1 + 0.15 * random.standard_normal(len(spec.cylinders)))
    common = spec.exhaust + 0.35 * (cause.ambient - 288.15) + 290 * cause.retard
    if spec.lean > 1.2:
        common = common + HEAT_BY_MIXTURE * (cause.lean - spec.lean)
    for cylinder, offset, by_load in zip(spec.cylinders, pattern - pattern.mean(), own, strict=True):
        hot = common + offset + by_load * (cause.load - spec.load)
        if cylinder in cause.misfire:
            hot = hot - MISFIRE_COLD * cause.misfire[cylinder]
        shown[f"cylinder_exhaust_temperature@cylinder_{cylinder}"] = warmth.follow(hot, cause.ambient, 500, 2400)
    idle = sum(cause.misfire.values(), np.zeros(n)) / len(spec.cylinders)
    into = spec.turbine + (common - spec.exhaust) + slope * (cause.load - spec.load) - 120 * idle
    drop = spec.turbine_drop * (0.4 + 0.6 * cause.load / spec.load)
    out = into - drop
    shown["turbine_inlet_temperature@engine"] = warmth.follow(into, cause.ambient, 500, 2400)
    shown["turbine_outlet_temperature@engine"] = warmth.follow(out, cause.ambient, 600, 3000)
    if not spec.catalyst:
        return
    into = out - 4
    rise = spec.rise * cause.conversion / 0.88 + 750 * idle
    shown["catalyst_inlet_temperature@engine"] = warmth.follow(into, cause.ambient, 700, 4000)
    shown["catalyst_outlet_temperature@engine"] = warmth.follow(into + rise, cause.ambient, 900, 6000)
    flow = cause.load / spec.load * cause.lean / spec.lean
    drop_of_pressure = 1100 * flow**1.6 * (1 + cause.deposits) + 12 * random.standard_normal(n)
    shown["catalyst_pressure_drop@engine"] = warmth.only(drop_of_pressure)


def _liquids(cause: Cause, warmth: Warmth, shown: Signals) -> None:
    spec, random, n = cause.spec, cause.random("liquids"), len(cause.time)
    heat = 9 * (cause.load - spec.load) + 0.10 * (cause.ambient - 288.15)
    water = 352.15 + heat + cause.fouled
    shown["jacket_water_inlet_temperature@engine"] = warmth.follow(water, cause.ambient, 1500, 20000)
    shown["jacket_water_outlet_temperature@engine"] = warmth.follow(
        water + 7.5 * cause.load / spec.load, cause.ambient, 1500, 20000
    )
    oil = 353.15 + heat + 0.7 * cause.fouled
    oil = warmth.follow(oil, cause.ambient, 2400, 20000)
    shown["oil_temperature@engine"] = oil
    shown["oil_pressure@engine"] = warmth.only(430e3 - 1500 * (oil - 353.15) + 2500 * random.standard_normal(n))
    shown["crankcase_pressure@engine"] = warmth.only(160 + 70 * cause.load + 8 * random.standard_normal(n))
    offsets = 2.2 * random.standard_normal(spec.bearings)
    for number in range(spec.bearings):
        shown[f"bearing_temperature@bearing_{number + 1}"] = warmth.follow(
            oil + offsets[number] + 3 * (cause.load - spec.load), cause.ambient, 2400, 20000
        )


def _controls(cause: Cause, warmth: Warmth, shown: Signals) -> None:
    spec = cause.spec
    load = cause.load - spec.load
    made: Signals = {
        "throttle": 0.71 + 0.45 * load,
        "wastegate": 0.22 - 0.5 * load - 0.8 * (cause.lean - spec.lean),
        "bypass": np.clip(0.05 - 0.3 * load, 0.0, 1.0),
        "fuel_actuator": 0.46 + 0.35 * load - 0.9 * (cause.lean - spec.lean) - 0.12 * cause.second_gas,
    }
    for name, value in made.items():
        if name in spec.controls:
            shown[f"{name}_position@engine"] = warmth.only(np.clip(value, 0.0, 1.0))
    shown["ignition_timing@engine"] = warmth.only(spec.timing - cause.retard)
    if "retard" in spec.controls:
        shown["ignition_retard@engine"] = warmth.only(cause.retard)
    if "knock" in spec.controls:
        shown["knock_level@engine"] = warmth.only(cause.knock)
