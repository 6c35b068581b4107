"""Pick the balances that the values at hand allow, and put them together for reconciliation."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from asfound.crosscheck import air_side, compressor_side, gas_side, rich_side, shaft_side
from asfound.crosscheck.arrays import Any_
from asfound.crosscheck.balances import Balances
from asfound.crosscheck.columns import in_few_columns
from asfound.crosscheck.engine_balance import HUMID, EngineBalance
from asfound.crosscheck.engine_point import NORMAL, EnginePoint
from asfound.crosscheck.engine_values import EngineValue, engine_values
from asfound.crosscheck.gas_properties import RealGas
from asfound.crosscheck.model_witness import balances_of, covariance_among, values_of
from asfound.crosscheck.plant import Plant, window
from asfound.crosscheck.readings import Readings
from asfound.crosscheck.rich_point import RichPoint
from asfound.crosscheck.witness import ModelWitness
from asfound.quantities.constants import GAS_CONSTANT
from asfound.quantities.typing import Array

LEAST_BAROMETER = 101_325.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wanting:
    """A balance that cannot be drawn up, and what would have to be read for it."""

    balance: EngineBalance
    lacks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assembled:
    """Balances, values with their covariance, and where to start."""

    plant: Plant
    balances: Balances
    readings: Readings
    used: tuple[EngineBalance, ...]
    """In the order of the residuals."""
    takes: Mapping[str, tuple[str, ...]]
    """Values that each balance rests on, by its name."""
    values: Mapping[str, EngineValue]
    assumed: frozenset[str]
    """Values that nobody read."""
    start: Mapping[str, float]
    wanting: tuple[Wanting, ...]
    unused: tuple[str, ...]
    """What was read and stands in no balance."""
    gases: tuple[RealGas | None, RealGas | None]
    """The fuel in its line and the compressed gas."""


def all_balances(plant: Plant) -> tuple[EngineBalance, ...]:
    """Return every balance that is known for such a plant."""
    return (
        *gas_side.BALANCES,
        *air_side.BALANCES,
        *shaft_side.BALANCES,
        *rich_side.BALANCES,
        *compressor_side.balances(plant),
        *balances_of(plant.witness, plant.gauge),
    )


def assemble(
    plant: Plant,
    names: tuple[str, ...],
    values: Array,
    covariance: Array,
    *,
    known: Mapping[str, tuple[float, float]] | None = None,
) -> Assembled:
    """Return the balances that these values allow.

    Parameters
    ----------
    plant : Plant
        What does not change during the visit.
    names : tuple of str
        Of what was read (`engine_values`); a name that no balance knows is kept in ``unused``.
    values, covariance : array
        In SI, shapes (n,) and (n, n). Gauge pressures that ``plant.gauge`` names stay gauge.
    known : mapping, optional
        Assumptions of which somebody knows better: name to value and standard uncertainty.
    """
    stages = tuple(plant.stages)
    table = {**engine_values(stages, plant.stoichiometric), **values_of(plant.witness)}
    read = frozenset(names) & frozenset(table)
    better = {name: given for name, given in (known or {}).items() if name not in read}
    chosen, wanting = _choose(plant, table, read | frozenset(better))
    takes = {one.name: _takes(plant, one, read | frozenset(better)) for one in chosen}
    needed = {value for one in takes.values() for value in one}
    order = tuple(name for name in table if name in needed)
    readings = _readings(order, names, values, covariance, table, better, plant.witness)
    at = dict(zip(order, readings.values, strict=True))
    unknowns = tuple(dict.fromkeys(name for one in chosen for name in one.unknowns))
    gases = _gases(plant, at)
    return Assembled(
        plant=plant,
        balances=_balances(plant, chosen, takes, order, unknowns, gases),
        readings=readings,
        used=chosen,
        takes=takes,
        values=table,
        assumed=frozenset(order) - read,
        start={name: value for name, value in _start(plant, at).items() if name in unknowns},
        wanting=wanting,
        unused=tuple(name for name in names if name not in order),
        gases=gases,
    )


def _choose(
    plant: Plant, table: Mapping[str, EngineValue], read: frozenset[str]
) -> tuple[tuple[EngineBalance, ...], tuple[Wanting, ...]]:
    """Return the balances that can be drawn up, and those that lack something."""
    chosen: list[EngineBalance] = []
    wanting: list[Wanting] = []
    for one in all_balances(plant):
        if not one.possible(plant):
            continue
        lacks = [name for name in one.needs if name not in read]
        lacks += [name for name in _takes(plant, one, read) if name not in read and not table[name].may_be_assumed]
        if lacks:
            wanting.append(Wanting(balance=one, lacks=tuple(dict.fromkeys(lacks))))
        else:
            chosen.append(one)
    while True:
        count: dict[str, int] = {}
        for one in chosen:
            for name in one.unknowns:
                count[name] = count.get(name, 0) + 1
        kept = [one for one in chosen if sum(count[name] == 1 for name in one.unknowns) < (2 if one.needs else 1)]
        if len(kept) == len(chosen):
            return tuple(chosen), tuple(wanting)
        chosen = kept


def _takes(plant: Plant, balance: EngineBalance, read: frozenset[str]) -> tuple[str, ...]:
    """Return the values that a balance rests on, given what was read."""
    names = [*balance.needs, *balance.takes]
    if plant.stoichiometric and "exhaust_co_dry" in names:
        names += ["water_gas_ratio", *HUMID]
    if balance.name.startswith("energy"):
        for share, streams in shaft_side.SHARES.items():
            if read.issuperset(streams):
                names += streams
            elif share == "cooler_share" and read.issuperset(shaft_side.GAS_SIDE):
                names += shaft_side.GAS_SIDE
            else:
                names.append(share)
    if balance.name == "electric":
        names.remove("generator_efficiency" if "generator_power" in read else "generator_power")
    return tuple(dict.fromkeys(names))


def _readings(
    order: tuple[str, ...],
    names: tuple[str, ...],
    values: Array,
    covariance: Array,
    table: Mapping[str, EngineValue],
    known: Mapping[str, tuple[float, float]],
    witness: ModelWitness | None,
) -> Readings:
    """Return values with their covariance in the order of the balances; what nobody read is assumed."""
    found, joint = np.empty(len(order)), np.zeros((len(order), len(order)))
    where = {name: at for at, name in enumerate(names)}
    there = [at for at, name in enumerate(order) if name in where]
    rows = [where[order[at]] for at in there]
    found[there] = values[rows]
    joint[np.ix_(there, there)] = covariance[np.ix_(rows, rows)]
    for at, name in enumerate(order):
        if name not in where:
            value, u = known.get(name, (table[name].value, table[name].u))
            assert value is not None
            assert u is not None
            found[at], joint[at, at] = value, u**2
    return Readings(order, found, covariance_among(witness, order, joint))


def _balances(
    plant: Plant,
    chosen: tuple[EngineBalance, ...],
    takes: Mapping[str, tuple[str, ...]],
    order: tuple[str, ...],
    unknowns: tuple[str, ...],
    gases: tuple[RealGas | None, RealGas | None],
) -> Balances:
    formulas = tuple(one.formula for one in chosen)

    kind = RichPoint if plant.stoichiometric else EnginePoint

    def residuals(x: Any_, u: Any_) -> Any_:
        point = kind(dict(zip((*order, *unknowns), (*x, *u), strict=True)), plant, *gases)
        return np.stack([formula(point) for formula in formulas])

    columns = (*order, *unknowns)
    stands = np.zeros((len(chosen), len(columns)), dtype=bool)
    for row, one in enumerate(chosen):
        there = {*takes[one.name], *one.unknowns}
        stands[row] = [name in there for name in columns]
    return Balances(
        readings=order,
        unmeasured=unknowns,
        formula=in_few_columns(residuals, stands, len(order)),
        names=tuple(one.name for one in chosen),
    )


def _gases(plant: Plant, at: Mapping[str, float]) -> tuple[RealGas | None, RealGas | None]:
    """Return the fuel in its line and the compressed gas, each where its state was read."""

    def absolute(name: str) -> float:
        return at[name] + (at.get("barometric_pressure", LEAST_BAROMETER) if name in plant.gauge else 0.0)

    line = stage = None
    if plant.fuel is not None and "fuel_pressure" in at:
        line = window(plant.fuel.fractions, [at["fuel_temperature"]], [absolute("fuel_pressure")])
    hot = [value for name, value in at.items() if name.endswith(("/suction_temperature", "/discharge_temperature"))]
    pressures = [absolute(name) for name in at if name.endswith(("/suction_pressure", "/discharge_pressure"))]
    gas = plant.compressed or (plant.fuel.fractions if plant.fuel else None)
    if gas and hot and pressures:
        stage = window(gas, hot, pressures)
    return line, stage


def _start(plant: Plant, at: Mapping[str, float]) -> dict[str, float]:
    """Return start values of the unknowns: rough is enough."""
    ratio = 1.6
    if plant.stoichiometric:
        ratio = 1.0
    elif "exhaust_oxygen_dry" in at:
        oxygen = min(max(at["exhaust_oxygen_dry"], 0.0), 0.17)
        ratio = 1 + 0.9 * oxygen / (0.2094 - oxygen)
    elif "exhaust_co2_dry" in at:
        ratio = 0.117 / max(at["exhaust_co2_dry"], 0.02)
    fuel = 3.0
    if "fuel_flow" in at:
        fuel = at["fuel_flow"] * NORMAL
    elif "fuel_flow_metered" in at:
        pressure = at["fuel_pressure"] + (at["barometric_pressure"] if "fuel_pressure" in plant.gauge else 0.0)
        fuel = at["fuel_flow_metered"] * pressure / (GAS_CONSTANT * at["fuel_temperature"])
    elif "fuel_mass_flow" in at and plant.fuel is not None:
        fuel = at["fuel_mass_flow"] / plant.fuel.molar_mass
    elif "engine_power" in at and plant.fuel is not None:
        fuel = at["engine_power"] / (0.36 * plant.fuel.heat)
    heat = plant.fuel.heat if plant.fuel is not None else 8.5e5
    power = at.get("engine_power") or at.get("generator_power") or 0.36 * fuel * heat
    gas = at["compressed_gas_flow"] * NORMAL if "compressed_gas_flow" in at else 120.0
    return {"fuel": fuel, "excess_air_ratio": ratio, "brake_power": power, "driven_power": power, "gas": gas}


def names_of(balances: Iterable[EngineBalance]) -> tuple[str, ...]:
    """Return the names of balances."""
    return tuple(one.name for one in balances)
