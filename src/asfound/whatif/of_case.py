"""From a visit to the model: the engine's sizes, the setting that was read, and the readings it is fitted to."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from asfound.errors import AsFoundError
from asfound.fitout.catalogue import load_catalogue
from asfound.fuel.visit_analysis import ANALYSIS
from asfound.quantities.case_numbers import Number, held, number_at
from asfound.quantities.constants import ATMOSPHERE
from asfound.quantities.display import show
from asfound.quantities.findings import Case
from asfound.quantities.register import quantity
from asfound.quantities.words import Reading, State
from asfound.quantities.worked import Worked
from asfound.whatif.bounds import bounds
from asfound.whatif.charge import charge
from asfound.whatif.engine import Build, Setting
from asfound.whatif.seen import Knob, Visit
from asfound.whatif.seen import Reading as Shown
from asfound.whatif.turbocharger import Turbocharger, exhaust_pressure_for

PLACES = ("engine", "left_bank", "right_bank", "stack", "before_catalyst", "site", "fuel")
USUAL_RATIO, RATIO_DOUBT, READ_RATIO_DOUBT = 11.5, 0.6, 0.15
"""Compression ratio of lean-burn engines where nobody says it (engineering judgement), and its doubt."""
ROD = 2.0
"""Strokes (common practice)."""
CHARGER = 0.52
"""Overall efficiency of a turbocharger where the exhaust pressure was not read (engineering judgement)."""
CHARGER_DOUBT = 0.12
"""Of the exhaust pressure that follows from it, as a share."""
USUAL_EXHAUST = 830.0
"""Before the turbine, where nobody read it. [K]"""
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
OLD_GAS = 0.9
"""An analysis whose shares add up to less is none. [1]"""
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Lacking:
    """Why a state of a visit cannot be modelled."""

    state: State
    quantities: tuple[str, ...]
    """Readings that are missing."""
    says: tuple[str, ...]
    """Other reasons, in sentences."""


def modelled(case: Case, state: State, *, to_fit: bool = True) -> Modelled | Lacking:
    """Return a state of a visit as the model takes it, or what is missing for that.

    Parameters
    ----------
    case : Case
    state : str
    to_fit : bool
        With the readings that it is fitted to; else setting, build and gas are enough.
    """
    numbers = _Numbers(case.worked, state)
    assumed: list[str] = []
    build = _build(case, numbers, assumed)
    lacks = [name for name in NEEDED if numbers.at(name) is None]
    gas = _gas(numbers)
    if gas is None:
        lacks.append("fuel_methane")
    if to_fit and not any(numbers.at(name) is not None for name in TO_FIT if name != "exhaust_oxygen_dry"):
        lacks.append("engine_power")
    if build is None or lacks or gas is None:
        says = () if build is not None else (
            "Bore, stroke and number of cylinders are not known: neither the readings nor the catalogue has them.",
        )  # fmt: skip
        return Lacking(state=state, quantities=tuple(lacks), says=says)
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


def _odd(numbers: _Numbers, build: Build, gas: Mapping[str, float]) -> Iterator[str]:
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


def gas_of(worked: Worked, state: State) -> dict[str, float] | None:
    """Return the gas that was analysed, component to share; None where nobody did. [mol/mol]"""
    return _gas(_Numbers(worked, state))


class _Numbers:
    """The numbers of a state, banks averaged, gauge pressures made absolute."""

    def __init__(self, worked: Worked, state: State) -> None:
        self.worked, self.state = worked, state

    def at(self, name: str) -> tuple[float, float, str] | None:
        """Return value, standard uncertainty and key of a quantity, wherever it lies; None where it does not. [SI]"""
        found = [one for place in PLACES if (one := held(self.worked, self.state, place, name)) is not None]
        found = [one for one in found if math.isfinite(one.value)]
        if not found:
            return None
        banks = [one for one in found if one.place.endswith("_bank")]
        chosen = banks if banks and found[0].place != "engine" else found[:1]
        values = [self.absolute(one) for one in chosen]
        if any(one is None for one in values):
            return None
        value = float(np.mean([one for one in values if one is not None]))
        return value, max(one.standard_uncertainty for one in chosen), chosen[0].key

    def absolute(self, one: Number) -> float | None:
        """Return a number with the barometer added where it is a gauge pressure."""
        if not (isinstance(one, Reading) and one.gauge):
            return one.value
        barometer = held(self.worked, self.state, "site", "barometric_pressure")
        return None if barometer is None else one.value + barometer.value

    def value(self, name: str, otherwise: float) -> float:
        """Return a value, or what stands for it."""
        found = self.at(name)
        return otherwise if found is None else found[0]


def _build(case: Case, numbers: _Numbers, assumed: list[str]) -> Build | None:
    """Return how the engine is built: as read, else of its family in the catalogue."""
    bore, stroke, count = (numbers.value(one, 0.0) for one in ("cylinder_bore", "piston_stroke", "cylinder_count"))
    if not (bore and stroke and count):
        sizes = _of_the_family(case.engine)
        if sizes is None:
            return None
        bore, stroke, count = sizes
    ratio = numbers.at("compression_ratio")
    if ratio is None:
        assumed.append(
            f"Compression ratio {USUAL_RATIO:g}, give or take {RATIO_DOUBT:g} (assumed, as lean-burn engines have it)."
        )
    assumed.append(
        f"Connecting rod of {ROD:g} strokes, intake closing 35 degrees after and exhaust opening 55 degrees before "
        "bottom dead centre, walls at 157 °C (assumed)."
    )
    return Build(
        cylinders=int(count), bore=bore, stroke=stroke, rod=ROD * stroke,
        compression_ratio=USUAL_RATIO if ratio is None else ratio[0],
        ratio_doubt=RATIO_DOUBT if ratio is None else max(ratio[1], READ_RATIO_DOUBT),
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


def _gas(numbers: _Numbers) -> dict[str, float] | None:
    """Return the gas that was analysed; None where nobody did."""
    shares = {
        name: max(one.value, 0.0)
        for quantity_name, name in ANALYSIS.items()
        if (one := held(numbers.worked, numbers.state, "fuel", quantity_name)) is not None
    }
    found = {name: share for name, share in shares.items() if share > 0.0}
    return found if sum(found.values()) >= OLD_GAS else None


def _setting(
    numbers: _Numbers, gas: Mapping[str, float], barometer: float, inlet: float, assumed: list[str]
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
    return setting, doubts, {names[name]: one[2] for name, one in read.items() if one is not None}


def _exhaust_pressure(
    numbers: _Numbers, gas: Mapping[str, float], manifold: float, ratio: float, barometer: float, inlet: float,
    assumed: list[str],
) -> tuple[float, float]:  # fmt: skip
    """Return the exhaust manifold pressure and its doubt: as read, else by the balance of a usual turbocharger."""
    read = numbers.at("exhaust_manifold_pressure")
    if read is not None:
        return read[0], read[1]
    if manifold <= 1.02 * barometer:
        assumed.append("Exhaust manifold at 30 mbar above the barometer (assumed: no turbocharger at work).")
        return barometer + 3e3, 2e3
    hot = numbers.value("turbine_inlet_temperature", USUAL_EXHAUST)
    mixed = charge(gas, ratio)
    usual = Turbocharger(np.array([CHARGER]), np.array([inlet]), np.array([barometer]))
    back = float(exhaust_pressure_for(usual, np.array([manifold]), np.array([hot]), mixed.fuel / mixed.air)[0])
    if not math.isfinite(back):
        back = manifold
    assumed.append(
        f"Exhaust manifold at {back / 1e5:.2f} bar absolute, by a turbocharger of {100 * CHARGER:.0f} % (assumed)."
    )
    return back, CHARGER_DOUBT * back


def _readings(numbers: _Numbers, gas: Mapping[str, float], setting: Setting) -> tuple[list[Shown], dict[str, str]]:
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


def _peaks(numbers: _Numbers) -> tuple[float, float, str] | None:
    """Return the mean peak pressure of the cylinders that were indicated, absolute."""
    read = list(_cylinders(numbers, "peak_firing_pressure"))
    values = [numbers.absolute(one) for one in read]
    sound = [one for one in values if one is not None]
    if not sound or len(sound) < len(values):
        return None
    return float(np.mean(sound)), max(one.standard_uncertainty for one in read), read[0].key


def _cylinders(numbers: _Numbers, name: str) -> Iterator[Number]:
    """Yield the readings of a quantity at the cylinders of the state."""
    assert quantity(name)
    for reading in numbers.worked.readings:
        if reading.quantity == name and reading.state == numbers.state and reading.place.startswith("cylinder_"):
            one = number_at(numbers.worked, numbers.state, reading.place, name)
            if one is not None:
                yield one
