"""Published values of methane number, real gas, water and dew points, recomputed from the packaged tables."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from asfound.fuel import hydrocarbon_dew, methane_number, methane_number_linear, real_gas, water
from asfound.quantities.typing import Array
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

_PACKAGE = "asfound.fuel"
_MEGAPASCAL = 1e6
SOAVE = 3.3  # K: how far another cubic equation was away at most
EQUATION_TOLERANCE = 2e-5  # of the value: the digits that the tables print


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    yield from _equations_of_state()
    yield from _methane_numbers()
    yield from _simple_methods()
    yield from _water()
    yield from _hydrocarbon_dew()


def published_gas(name: str) -> dict[str, float]:
    """Return mole fractions of a test gas, scaled to one."""
    rows = [row for row in load_csv(_PACKAGE, "data/published_eos_gases.csv") if row["gas"] == name]
    total = sum(float(row["per_cent"]) for row in rows)
    return {row["component"]: float(row["per_cent"]) / total for row in rows}


def _equations_of_state() -> Iterator[Check]:
    gases: dict[str, Array] = {}
    for row in load_csv(_PACKAGE, "data/published_eos.csv"):
        name, equation, of = row["gas"], row["equation"], row["of"]
        if name not in gases:
            gases[name] = real_gas.composition(published_gas(name))
        if equation not in ("detail", "gerg"):
            raise ValueError(f"published_eos.csv names an equation '{equation}'")
        kind: real_gas.Equation = "detail" if equation == "detail" else "gerg"
        temperature = float(row["temperature"])
        if of == "pressure":
            density = float(row["molar_density"])
            value = float(real_gas.pressure_at(gases[name], temperature, density, equation=kind)) / _MEGAPASCAL
        else:
            read = real_gas.gas_state if row["pressure"] else real_gas.gas_state_at_density
            state = read(gases[name], temperature, float(row["pressure"] or row["molar_density"]), equation=kind)
            value = float(getattr(state, of))
        published = float(row["published"])
        yield Check(
            check=f"{of} of {name} by {equation}, {temperature:g} K, {row['pressure'] or row['molar_density']}",
            room="fuel",
            value=value,
            published=published,
            tolerance=EQUATION_TOLERANCE * abs(published),
            source=row["source"],
            clause="TESTDATA tables" if name != "21 components" else "test program of DETAIL",
            unit=row["unit"],
        )


def _methane_numbers() -> Iterator[Check]:
    for row in load_csv(_PACKAGE, "data/published_methane_number.csv"):
        parts = {name: float(row[name]) / 100 for name in methane_number.COMPONENTS if name in row}
        found = methane_number.methane_numbers(methane_number.composition(parts))
        taken = [name for name, one in zip(methane_number.diagram_names(), found.diagrams, strict=True) if one]
        yield Check(
            check=f"methane number of {row['mix']}",
            room="fuel",
            value=float(found.number),
            published=float(row["published"]),
            tolerance=float(row["tolerance"]),
            source=row["source"],
            clause="Table A.10",
            unit="1",
            note="the standard leaves the split open; the rule for it is our own",
        )
        yield Check(
            check=f"diagrams taken for {row['mix']} as printed",
            room="fuel",
            value=float(
                len(set(taken) & set(row["diagrams"].split())) - len(set(taken) ^ set(row["diagrams"].split()))
            ),
            published=float(len(row["diagrams"].split())),
            tolerance=0.0,
            source=row["source"],
            clause="Table A.10",
        )


def _simple_methods() -> Iterator[Check]:
    methane = methane_number.composition({"methane": 1.0})
    for row in load_csv(_PACKAGE, "data/published_linear.csv"):
        if row["relation"] not in ("iso_15403", "california_2001"):
            raise ValueError(f"published_linear.csv names a relation '{row['relation']}'")
        relation: methane_number_linear.Relation = "iso_15403" if row["relation"] == "iso_15403" else "california_2001"
        if row["of"] == "linear":
            value = float(methane_number_linear.methane_number_linear(methane, relation))
        else:
            octane = methane_number_linear.octane_of_ratio(float(row["input"]))
            value = float(methane_number_linear.from_octane(octane, relation))
        yield Check(
            check=f"methane number by the {row['of'].replace('_', '-')} form, {row['relation']}, at {row['input']}",
            room="fuel",
            value=value,
            published=float(row["published"]),
            tolerance=float(row["tolerance"]),
            source=row["source"],
            note=row["note"],
        )


def _water() -> Iterator[Check]:
    for row in load_csv(_PACKAGE, "data/published_water.csv"):
        temperature = float(row["temperature"])
        if row["of"] == "saturation_pressure":
            value = float(water.saturation_pressure(temperature))
        else:
            pressure = float(row["pressure"])
            content = water.saturated_fraction(temperature, pressure)
            value = float(water.pounds(content)) if row["of"] == "pounds" else float(water.dew_point(content, pressure))
        at = f", {float(row['pressure']) / 1e5:g} bar" if row["pressure"] else ""
        yield Check(
            check=f"{row['of'].replace('_', ' ')} at {temperature:g} K{at}",
            room="fuel",
            value=value,
            published=float(row["published"]),
            tolerance=float(row["tolerance"]),
            source=row["source"],
            unit=row["unit"],
            note=row["note"],
        )


def _hydrocarbon_dew() -> Iterator[Check]:
    rows = load_csv(_PACKAGE, "data/published_hydrocarbon_dew.csv")
    for gas in dict.fromkeys((row["gas"], row["hexane_as"]) for row in rows):
        mine = [row for row in rows if (row["gas"], row["hexane_as"]) == gas]
        parts = published_gas(gas[0])
        if "n_hexane" in parts:
            parts[gas[1]] = parts.pop("n_hexane")
        pressure = np.array([float(row["pressure"]) for row in mine])
        found = hydrocarbon_dew.dew_point(hydrocarbon_dew.composition(dict(parts)), pressure)
        for row, value in zip(mine, found, strict=True):
            for column, tolerance in (
                ("same_equation", 0.02),
                ("reference_model", hydrocarbon_dew.EQUATION),
                ("soave", SOAVE),
            ):
                if row[column]:
                    yield Check(
                        check=f"hydrocarbon dew point of {gas[0]}, its C6 as {gas[1]}, {row['pressure']} Pa, {column}",
                        room="fuel",
                        value=float(value),
                        published=float(row[column]),
                        tolerance=tolerance,
                        source=row["source"],
                        unit="K",
                        note="computed with an open library, not published",
                    )
