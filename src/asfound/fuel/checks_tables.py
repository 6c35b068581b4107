"""Tables of the room beside other compilations of the same figures: what would show a slip of a digit."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.fuel import iso6976, water
from asfound.fuel import methane_number as knock
from asfound.fuel import methane_number_linear as simple
from asfound.fuel.components import component, table
from asfound.fuel.stoichiometry import MOLAR_MASS_DRY_AIR, OXYGEN_IN_DRY_AIR
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

_PACKAGE = "asfound.fuel"


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    yield from _summation()
    yield from _water_heat()
    yield from _contract_masses()
    yield from _edition_before()
    yield from _air()
    yield from _simple_methods_on_mixes()
    yield from _water_content()
    yield from _inerts()


def _summation() -> Iterator[Check]:
    data = table()
    for row in load_csv(_PACKAGE, "data/published_summation.csv"):
        yield Check(
            f"summation factor of {row['component']} at 15 C", "fuel",
            float(data.summation[data.place[row["component"]], 1]), float(row["s_15"]), float(row["tolerance"]),
            "coolprop_8", "second virial coefficient", "1", row["note"] or "by an open library: within 0.007",
        )  # fmt: skip


def _water_heat() -> Iterator[Check]:
    """Yield the heat of vaporisation beside the water of the table of heats: the standard has it in both places."""
    gross = table().gross[component("water").number - 1]
    for at, value, heat in zip(("0", "15", "60 F", "20", "25"), gross, iso6976.WATER_HEAT, strict=True):
        yield Check(f"heat of vaporisation of water at {at} C".replace("F C", "F"), "fuel", heat / 1e3,
                    float(value) / 1e3, 5e-4, "iso_6976", "annex A, water", "kJ/mol")  # fmt: skip


def _contract_masses() -> Iterator[Check]:
    for row in load_csv(_PACKAGE, "data/gpa2145.csv"):
        one = component(row["component"])
        yield Check(f"molar mass of {one.name}, two tables", "fuel", 1e3 * one.molar_mass, float(row["M"]), 1e-4,
                    "gpa_2145", "", "g/mol")  # fmt: skip
        s = float(table().summation[one.number - 1, 2])
        yield Check(f"summation factor of {one.name} at 60 F, two tables", "fuel", s, float(row["s"]), 0.012,
                    "gpa_2145", "60 F, 14.696 psia", "1", "the two standards give not quite the same Z")  # fmt: skip


def _edition_before() -> Iterator[Check]:
    data = table()
    for row in load_csv(_PACKAGE, "data/iso6976_1995.csv"):
        if float(row["H_25"]) == 0 or row["component"] not in data.place:
            continue
        now, then = float(data.gross[data.place[row["component"]], 4]) / 1e3, float(row["H_25"])
        yield Check(f"gross heat of {row['component']} at 25 C, 1995 and 2016", "fuel", now, then, 1e-4 * then,
                    "iso_6976_1995", "", "kJ/mol", "two editions: within 0.01 %")  # fmt: skip


def _air() -> Iterator[Check]:
    rows = load_csv(_PACKAGE, "data/published_air.csv")
    for source, tolerance in (("cipm_2007", 2e-5), ("us_atmosphere_1976", 1.6e-3)):
        total = sum(float(row[source]) for row in rows)
        mass = sum(float(row[source]) * float(row["molar_mass"]) for row in rows) / total
        yield Check("molar mass of dry air", "fuel", 1e3 * MOLAR_MASS_DRY_AIR, mass, tolerance, source,
                    "sum over its components", "g/mol")  # fmt: skip
    oxygen = next(float(row["cipm_2007"]) for row in rows if row["component"] == "oxygen")
    yield Check("oxygen in dry air", "fuel", OXYGEN_IN_DRY_AIR, oxygen, 1e-9, "cipm_2007", "", "mol/mol")


def _simple_methods_on_mixes() -> Iterator[Check]:
    """Yield the simple forms outside their range, where the printed algebra still must come out."""
    mixes = {row["mix"]: row for row in load_csv(_PACKAGE, "data/published_methane_number.csv")}
    for row in load_csv(_PACKAGE, "data/published_linear_mixes.csv"):
        parts = {name: float(mixes[row["mix"]][name]) / 100 for name in knock.COMPONENTS if name in mixes[row["mix"]]}
        x = knock.composition(parts)
        linear, ratio = float(simple.octane_linear(x)), float(simple.hydrogen_carbon_ratio(x))
        of_ratio = float(simple.octane_of_ratio(ratio))
        for what, value, tolerance in (
            ("octane_linear", linear, 0.006),
            ("linear_iso", float(simple.from_octane(linear)), 0.06),
            ("linear_california", float(simple.from_octane(linear, "california_2001")), 0.06),
            ("ratio", ratio, 6e-5),
            ("octane_ratio", of_ratio, 0.02),
            ("ratio_iso", float(simple.from_octane(of_ratio)), 0.07),
            ("ratio_california", float(simple.from_octane(of_ratio, "california_2001")), 0.07),
        ):
            yield Check(f"{what.replace('_', ' ')} of {row['mix']}, outside its range", "fuel", value, float(row[what]),
                        tolerance, "sae_922359", "", "1", "evaluated elsewhere; the room answers nan here")  # fmt: skip


def _water_content() -> Iterator[Check]:
    for row in load_csv(_PACKAGE, "data/published_water_content.csv"):
        kelvin, pascal = float(row["celsius"]) + 273.15, float(row["bar"]) * 1e5
        fraction = float(water.saturated_fraction(kelvin, pascal))
        ideal = float(water.saturation_pressure(kelvin)) / pascal
        for what, value, unit in (
            ("pounds", float(water.pounds(fraction)), "lb/MMscf"),
            ("milligrams", 1e6 * float(water.concentration(fraction)), "mg/m3"),
            ("ppm", 1e6 * fraction, "ppm"),
            ("ideal_ppm", 1e6 * ideal, "ppm"),
        ):
            published = float(row[what])
            yield Check(f"water, {what.replace('_', ' ')}, at {row['celsius']} C and {row['bar']} bar", "fuel", value,
                        published, max(2e-3 * published, 0.006), "bukacek_1955", "", unit,
                        "the correlation evaluated elsewhere")  # fmt: skip


def _inerts() -> Iterator[Check]:
    gas = knock.composition({"methane": 0.6, "carbon_dioxide": 0.4})
    yield Check("methane number of 60 % methane with 40 % carbon dioxide", "fuel", float(knock.methane_number(gas)),
                139.9, 0.06, "en_16726_public", "diagram A20", "1",
                "one public transcription has another digit in A20 and gives 149.9")  # fmt: skip
