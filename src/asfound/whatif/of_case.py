"""From a visit to the model: the engine's sizes, the setting that was read, and the readings it is fitted to."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from asfound.errors import AsFoundError
from asfound.fitout.catalogue import load_catalogue
from asfound.quantities.case_numbers import Number, number_at
from asfound.quantities.constants import ATMOSPHERE
from asfound.quantities.display import show
from asfound.quantities.findings import Case
from asfound.quantities.register import quantity
from asfound.quantities.words import State
from asfound.whatif.bounds import bounds
from asfound.whatif.charge import charge
from asfound.whatif.engine import Build, Setting
from asfound.whatif.numbers_of_case import Numbers, burning_of, gas_in
from asfound.whatif.seen import Knob, Visit
from asfound.whatif.seen import Reading as Shown
from asfound.whatif.stand_in import BOOSTED, stand_in
from asfound.whatif.turbocharger import Turbocharger, exhaust_pressure_for
from asfound.whatif.usual import GAS, PIPELINE_GAS

USUAL_RATIO, RATIO_DOUBT, READ_RATIO_DOUBT = 11.5, 0.6, 0.15
"""Compression ratio of lean-burn engines where nobody says it (engineering judgement), and its doubt."""
NEAR_ONE_RATIO, NEAR_ONE_DOUBT = 10.0, 0.8
"""The same of engines that burn near lambda 1 (engineering judgement)."""
ROD = 2.0
"""Strokes (common practice)."""
CHARGER = 0.52
"""Overall efficiency of a turbocharger where the exhaust pressure was not read (engineering judgement)."""
CHARGER_DOUBT = 0.12
"""Of the exhaust pressure that follows from it, as a share."""
LOW_BOOST_DOUBT = 0.3
"""The same near lambda 1, where boost is low: as a share of what it lies above the barometer."""
USUAL_EXHAUST, NEAR_ONE_EXHAUST = 830.0, 920.0
"""Before the turbine, where nobody read it; of engines near lambda 1 (engineering judgement). [K]"""
NEEDED = ("engine_speed", "manifold_pressure", "manifold_temperature", "excess_air_ratio", "ignition_timing")
TO_FIT = (
    "engine_power",
    "fuel_heat_input_net",
    "exhaust_median",
    "exhaust_nox_dry",
    "exhaust_oxygen_dry",
    "peak_firing_pressure",
)
SETTING_QUANTITIES = (
    *NEEDED,
    "humidity_ratio",
    "exhaust_manifold_pressure",
    "turbine_inlet_temperature",
    "barometric_pressure",
    "intake_air_temperature",
    "ambient_temperature",
    "auxiliary_water_inlet_temperature",
    "cylinder_bore",
    "piston_stroke",
    "cylinder_count",
    "compression_ratio",
)
"""All that build and setting are made from, but for the gas."""
TIMING_DOUBT = math.radians(0.5)
"""Of a commanded timing at least: pickup, pointer, calibration (engineering judgement). [rad]"""
WATER_TO_AIR = 28.96546 / 18.01528


@dataclass(frozen=True, slots=True, kw_only=True)
class Modelled:
    """A state of a visit as the model takes it."""

    state: State
    build: Build
    visit: Visit
    assumed: tuple[str, ...]
    """What nobody read, in sentences."""
    inlet_pressure: float
    """Before the compressor. [Pa]"""
    inlet_temperature: float
    """[K]"""
    coolant_temperature: float | None
    """Of the water into the charge cooler; None: nobody read it. [K]"""
    keys: Mapping[str, str]
    """Output or part of the setting to the key of the number that it was taken from."""
    near_one: bool = False
    """It burns near lambda 1: carbon monoxide counts, and a three-way catalyst stands behind it or might."""
    unread: tuple[str, ...] = ()
    """Parts of the setting, and the gas, for which a usual value stands: quantities, that to be read first before."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lacking:
    """Why a state of a visit cannot be modelled."""

    state: State
    quantities: tuple[str, ...]
    """Readings that are missing."""
    says: tuple[str, ...]
    """Other reasons, in sentences."""
    then_assumed: tuple[str, ...] = ()
    """What is missing besides, and would be assumed once those were read."""


def modelled(case: Case, state: State, *, to_fit: bool = True, assume: bool = False) -> Modelled | Lacking:
    """Return a state of a visit as the model takes it, or what is missing for that.

    Parameters
    ----------
    case : Case
    state : str
    to_fit : bool
        With the readings that it is fitted to; else setting, build and gas are enough.
    assume : bool
        With usual values, wide and named, for one or two parts of the setting that nobody read.
    """
    burns = burning_of(case, state)
    numbers = Numbers(case.worked, state, burns)
    assumed: list[str] = []
    build = _build(case, numbers, assumed)
    lacks = [name for name in NEEDED if numbers.at(name) is None]
    gas = gas_in(numbers)
    if gas is None:
        lacks.append(GAS)
    unread: tuple[str, ...] = ()
    if assume and lacks:
        lacks, unread = stand_in(case, numbers, lacks, assumed)
    if gas is None and GAS in unread:
        gas = dict(PIPELINE_GAS)
    if to_fit and not any(numbers.at(name) is not None for name in TO_FIT if name != "exhaust_oxygen_dry"):
        lacks.append("engine_power")
    if build is None or lacks or gas is None:
        says = () if build is not None else (
            "Bore, stroke and number of cylinders are not known: neither the readings nor the catalogue has them.",
        )  # fmt: skip
        return Lacking(state=state, quantities=tuple(lacks), says=says, then_assumed=unread)
    if odd := tuple(_odd(numbers, build, gas)):
        return Lacking(state=state, quantities=(), says=odd)
    barometer = numbers.value("barometric_pressure", ATMOSPHERE)
    inlet = numbers.value("intake_air_temperature", numbers.value("ambient_temperature", 298.15))
    coolant = numbers.at("auxiliary_water_inlet_temperature")
    setting, doubts, keys = _setting(numbers, gas, barometer, inlet, assumed)
    readings, read_keys = _readings(numbers, gas, setting) if to_fit else ([], {})
    visit = Visit(setting=setting, u=doubts, readings=tuple(readings), fuel=gas, name=state)
    return Modelled(
        state=state, build=build, visit=visit, assumed=tuple(assumed), inlet_pressure=barometer,
        inlet_temperature=inlet, coolant_temperature=coolant[0] if coolant else None, keys={**keys, **read_keys},
        near_one=burns.stoichiometric, unread=unread,
    )  # fmt: skip


LEAST_HEAT = 1e6
"""Net heat of a gas that runs an engine: producer gas has four times as much. [J/kg]"""
SOUND_RATIO = (6.0, 18.0)
"""Compression ratios of spark-ignited gas engines, with room. [1]"""
KNOBS: tuple[tuple[str, Knob], ...] = (
    ("engine_speed", "speed"), ("manifold_pressure", "manifold_pressure"),
    ("manifold_temperature", "charge_temperature"), ("excess_air_ratio", "excess_air_ratio"),
    ("ignition_timing", "timing"),
)  # fmt: skip
"""Quantities of the setting, and the bounds that they must lie in."""


def _odd(numbers: Numbers, build: Build, gas: Mapping[str, float]) -> Iterator[str]:
    """Say what of a setting is none that the model can be asked at: a wrong unit, or an engine that stands."""
    for name, knob in KNOBS:
        read, bound, about = numbers.at(name), bounds()[knob], quantity(name)
        if read is None:
            continue
        sign = -1.0 if knob == "timing" else 1.0
        if not bound.low <= sign * read[0] <= bound.high:
            ends = sorted((sign * bound.low, sign * bound.high))
            low, high = (show(one, name, system="si") for one in ends)
            value = show(read[0], name, system="si")
            unit = "" if value.unit == "1" else f" {value.unit.partition(' (')[0]}"
            yield (
                f"{about.title} of {value.value}{unit} is none that the model can be asked at ({low.value} to "
                f"{high.value}{unit}). Look at unit and decimal point of the entry."
            )
    if not SOUND_RATIO[0] <= build.compression_ratio <= SOUND_RATIO[1]:
        yield (
            f"A compression ratio of {build.compression_ratio:.3g} is none of a gas engine "
            f"({SOUND_RATIO[0]:g} to {SOUND_RATIO[1]:g})."
        )
    try:
        burns = float(charge(gas, 1.7).heating_value[0]) > LEAST_HEAT
    except AsFoundError:
        burns = False
    if not burns:
        yield "The gas that was analysed does not burn, or next to nothing of it does. Look at its shares."


def _build(case: Case, numbers: Numbers, assumed: list[str]) -> Build | None:
    """Return how the engine is built: as read, else of its family in the catalogue."""
    bore, stroke, count = (numbers.value(one, 0.0) for one in ("cylinder_bore", "piston_stroke", "cylinder_count"))
    if not (bore and stroke and count):
        sizes = _of_the_family(case.engine)
        if sizes is None:
            return None
        bore, stroke, count = sizes
    ratio = numbers.at("compression_ratio")
    usual_ratio = (NEAR_ONE_RATIO, NEAR_ONE_DOUBT) if numbers.near_one else (USUAL_RATIO, RATIO_DOUBT)
    if ratio is None:
        assumed.append(
            f"Compression ratio {usual_ratio[0]:g}, give or take {usual_ratio[1]:g} (assumed, as "
            f"{'engines near lambda 1' if numbers.near_one else 'lean-burn engines'} have it)."
        )
    assumed.append(
        f"Connecting rod of {ROD:g} strokes, intake closing 35 degrees after and exhaust opening 55 degrees before "
        "bottom dead centre, walls at 157 °C (assumed)."
    )
    return Build(
        cylinders=int(count), bore=bore, stroke=stroke, rod=ROD * stroke,
        compression_ratio=usual_ratio[0] if ratio is None else ratio[0],
        ratio_doubt=usual_ratio[1] if ratio is None else max(ratio[1], READ_RATIO_DOUBT),
        near_one=numbers.near_one,
    )  # fmt: skip


def _of_the_family(engine: Mapping[str, Any]) -> tuple[float, float, float] | None:
    """Return bore, stroke [m] and cylinders of the family that the record names."""
    name = str(engine.get("family") or "")
    if not name or engine.get("catalogue"):
        return None
    try:
        family = load_catalogue().family(name)
    except AsFoundError:
        return None
    if not (family.bore_mm and family.stroke_mm):
        return None
    return family.bore_mm / 1e3, family.stroke_mm / 1e3, float(family.cylinders)


def _setting(
    numbers: Numbers, gas: Mapping[str, float], barometer: float, inlet: float, assumed: list[str]
) -> tuple[Setting, dict[Knob, float], dict[str, str]]:
    """Return the setting, the doubt of each of its parts, and where they were taken from."""
    read = {name: numbers.at(name) for name in NEEDED}
    speed, manifold, cooled, ratio, timing = ((one[0], one[1]) for one in read.values() if one is not None)
    doubts: dict[Knob, float] = {
        "speed": speed[1], "manifold_pressure": manifold[1], "charge_temperature": cooled[1],
        "excess_air_ratio": ratio[1], "timing": max(timing[1], TIMING_DOUBT),
    }  # fmt: skip
    wet = numbers.at("humidity_ratio")
    exhaust, doubts["exhaust_pressure"] = _exhaust_pressure(
        numbers, gas, manifold[0], ratio[0], barometer, inlet, assumed
    )
    setting = Setting(
        speed=speed[0], manifold_pressure=manifold[0], charge_temperature=cooled[0], excess_air_ratio=ratio[0],
        timing=-timing[0], exhaust_pressure=exhaust, humidity=0.010 if wet is None else wet[0] * WATER_TO_AIR,
    )  # fmt: skip
    if wet is None:
        assumed.append("Humidity of the charge air 1.0 mol-% (assumed).")
    names = dict(
        zip(NEEDED, ("speed", "manifold_pressure", "charge_temperature", "excess_air_ratio", "timing"), strict=True)
    )
    return setting, doubts, {names[name]: one[2] for name, one in read.items() if one is not None and one[2]}


def _exhaust_pressure(
    numbers: Numbers, gas: Mapping[str, float], manifold: float, ratio: float, barometer: float, inlet: float,
    assumed: list[str],
) -> tuple[float, float]:  # fmt: skip
    """Return the exhaust manifold pressure and its doubt: as read, else by the balance of a usual turbocharger."""
    read = numbers.at("exhaust_manifold_pressure")
    if read is not None:
        return read[0], read[1]
    if manifold <= BOOSTED * barometer:
        assumed.append("Exhaust manifold at 30 mbar above the barometer (assumed: no turbocharger at work).")
        return barometer + 3e3, 2e3
    hot = numbers.value("turbine_inlet_temperature", NEAR_ONE_EXHAUST if numbers.near_one else USUAL_EXHAUST)
    mixed = charge(gas, ratio)
    usual = Turbocharger(np.array([CHARGER]), np.array([inlet]), np.array([barometer]))
    back = float(exhaust_pressure_for(usual, np.array([manifold]), np.array([hot]), mixed.fuel / mixed.air)[0])
    if not math.isfinite(back):
        back = manifold
    doubt = CHARGER_DOUBT * back if not numbers.near_one else LOW_BOOST_DOUBT * (back - barometer) + 1e3
    assumed.append(
        f"Exhaust manifold at {back / 1e5:.2f} bar absolute, by a turbocharger of {100 * CHARGER:.0f} % (assumed)."
    )
    return back, doubt


def _readings(numbers: Numbers, gas: Mapping[str, float], setting: Setting) -> tuple[list[Shown], dict[str, str]]:
    """Return what the model is fitted to, and where each was taken from."""
    found: list[Shown] = []
    heating = float(charge(gas, setting.excess_air_ratio).heating_value[0])
    for output, name, scale in (
        ("power", "engine_power", 1.0),
        ("fuel_flow", "fuel_heat_input_net", 1.0 / heating),
        ("exhaust_temperature", "exhaust_median", 1.0),
        ("nox_dry", "exhaust_nox_dry", 1.0),
        ("oxygen_dry", "exhaust_oxygen_dry", 1.0),
        ("peak_pressure", "peak_firing_pressure", 1.0),
    ):
        one = _peaks(numbers) if name == "peak_firing_pressure" else numbers.at(name)
        if one is not None and one[0] > 0.0:
            found.append(Shown(output=output, value=one[0] * scale, u=one[1] * scale, key=one[2]))
    return found, {one.output: one.key for one in found}


def _peaks(numbers: Numbers) -> tuple[float, float, str] | None:
    """Return the mean peak pressure of the cylinders that were indicated, absolute."""
    read = list(_cylinders(numbers, "peak_firing_pressure"))
    values = [numbers.absolute(one) for one in read]
    sound = [one for one in values if one is not None]
    if not sound or len(sound) < len(values):
        return None
    return float(np.mean(sound)), max(one.standard_uncertainty for one in read), read[0].key


def _cylinders(numbers: Numbers, name: str) -> Iterator[Number]:
    """Yield the readings of a quantity at the cylinders of the state."""
    assert quantity(name)
    for reading in numbers.worked.readings:
        if reading.quantity == name and reading.state == numbers.state and reading.place.startswith("cylinder_"):
            one = number_at(numbers.worked, numbers.state, reading.place, name)
            if one is not None:
                yield one
