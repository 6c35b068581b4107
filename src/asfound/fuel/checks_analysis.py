"""Published values of heating value, density, Wobbe index and combustion, recomputed from the packaged examples."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from asfound.fuel import gpa2172, iso6976, iso6976_uncertainty
from asfound.fuel.components import ELEMENTS, component, table
from asfound.fuel.iso6976 import REFERENCE_PRESSURE, Reference
from asfound.fuel.stoichiometry import f_factor_method_19, per_heat, stoichiometry
from asfound.quantities.typing import Array
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

_PACKAGE = "asfound.fuel"
_SCALE = {"g/mol": 1e-3, "kJ/mol": 1e3, "MJ/kg": 1e6, "MJ/m3": 1e6, "kg/m3": 1.0, "1": 1.0, "Btu/ft3": 1.0}
_BTU_PER_CUBIC_FOOT = gpa2172.BTU / gpa2172.CUBIC_FOOT  # J/m3
_ATOMIC_MASS = dict(zip(ELEMENTS, (12.0107, 1.00794, 14.0067, 15.9994, 32.065, 4.002602, 20.1797, 39.948), strict=True))


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    yield from _examples()
    yield from _table()
    yield from _contract_table()
    yield from _burning()
    yield from _f_factors()


def gas(name: str) -> tuple[list[str], Array, Array]:
    """Return components, fractions and standard uncertainties of a published gas."""
    rows = [row for row in load_csv(_PACKAGE, "data/published_gases.csv") if row["gas"] == name]
    return (
        [row["component"] for row in rows],
        np.array([float(row["fraction"]) for row in rows]),
        np.array([float(row["u"]) for row in rows]),
    )


def _examples() -> Iterator[Check]:
    correlation = np.array(
        [[float(row[f"r{at}"]) for at in range(1, 12)] for row in load_csv(_PACKAGE, "data/published_correlation.csv")]
    )
    for row in load_csv(_PACKAGE, "data/published_iso6976.csv"):
        names, x, u = gas(row["gas"])
        pair, _, kilopascal = row["reference"].partition("@")
        reference = Reference.named(pair, float(kilopascal) * 1e3 if kilopascal else REFERENCE_PRESSURE)
        of = row["of"].removesuffix("_btu")
        if row["how"] == "contract":
            value = getattr(gpa2172.contract_values(x, names, base_pressure=reference.pressure), of)
        elif row["how"] == "value":
            value = getattr(iso6976.properties(x, names, reference), of)
        else:
            r = correlation if row["how"] == "u correlated" else None
            value = getattr(iso6976_uncertainty.uncertainty(x, u, names, reference, correlation=r), of)
        if row["of"].endswith("_btu"):
            value /= _BTU_PER_CUBIC_FOOT
        yield Check(
            check=row["check"], room="fuel", value=value / _SCALE[row["unit"]], published=float(row["published"]),
            tolerance=float(row["tolerance"]), source=row["source"], clause=row["clause"], unit=row["unit"],
            note=row["note"],
        )  # fmt: skip


def _table() -> Iterator[Check]:
    """Yield the table against atomic masses and another compilation of heats: what would show a slip of a digit."""
    data = table()
    for one in data.components:
        by_atoms = sum(_ATOMIC_MASS[element] * count for element, count in one.atoms.items())
        yield Check(
            f"molar mass of {one.name}", "fuel", one.molar_mass * 1e3, by_atoms, 6e-6, "iso_6976", "annex A", "g/mol",
            "sum of the atomic masses",
        )  # fmt: skip
    for row in load_csv(_PACKAGE, "data/published_heats.csv"):
        at = component(row["component"]).number - 1
        heat, at_15 = data.gross[at, 4] / 1e3, data.gross[at, 1] / 1e3
        other = float(row["gross_25"])
        yield Check(
            f"gross heat of {row['component']} at 25 C", "fuel", heat, other, 0.0011 * other, row["source"], "",
            "kJ/mol", "another compilation: within 0.11 %",
        )  # fmt: skip
        yield Check(
            f"gross heat of {row['component']}, 15 less 25 C", "fuel", at_15 - heat, float(row["gross_15_less_25"]),
            0.03, row["source"], "", "kJ/mol", "from heat capacities; the table prints two decimals",
        )  # fmt: skip


def _contract_table() -> Iterator[Check]:
    """Yield the ideal heating values of GPA 2145, recomputed from those of ISO 6976."""
    reference = Reference.named("60F/60F", 14.696 * gpa2172.PSI)
    for row in load_csv(_PACKAGE, "data/gpa2145.csv"):
        if float(row["H"]) == 0:
            continue
        ideal = iso6976.properties([1.0], [row["component"]], reference, ideal=True).volume_gross
        yield Check(
            f"ideal gross value of {row['component']}", "fuel", float(ideal) / _BTU_PER_CUBIC_FOOT, float(row["H"]),
            6e-5 * float(row["H"]), "gpa_2145", "60 F, 14.696 psia", "Btu/ft3", "two tables: within 0.006 %",
        )  # fmt: skip


def _burning() -> Iterator[Check]:
    units = {"dry_air_by_mass": "kg/kg"}
    for row in load_csv(_PACKAGE, "data/published_stoichiometry.csv"):
        burned = stoichiometry([1.0], [row["component"]])
        for of in ("oxygen", "dry_air", "dry_air_by_mass", "carbon_dioxide", "water", "sulfur_dioxide"):
            yield Check(
                f"{of} of {row['component']}", "fuel", float(getattr(burned, of)), float(row[of]), 6e-6,
                row["source"], "balance of the elements", units.get(of, "mol/mol"),
            )  # fmt: skip
    names, x, _ = gas("textbook_13_3")
    book = stoichiometry(x, names, oxygen_in_dry_air=1 / 4.76)
    yield Check("theoretical air of a natural gas", "fuel", float(book.dry_air), 9.52, 5e-3, "moran_shapiro",
                "Example 13.3", "mol/mol", "air as O2 + 3.76 N2")  # fmt: skip
    yield Check("theoretical oxygen of a natural gas", "fuel", float(book.oxygen), 2.0, 5e-3, "moran_shapiro",
                "Example 13.3", "mol/mol", "the book rounds to 2.0")  # fmt: skip
    methane = stoichiometry([1.0], ["methane"])
    yield Check("air for methane by mass", "fuel", float(methane.dry_air_by_mass), 17.235, 0.018, "own_calculation",
                "an equilibrium library", "kg/kg", "air cut to N2, O2, Ar there: within 0.1 %")  # fmt: skip


def _f_factors() -> Iterator[Check]:
    scale = gpa2172.CUBIC_FOOT / (1e6 * gpa2172.BTU)  # m3/J in a dscf/MMBtu
    heat = float(iso6976.properties([1.0], ["methane"], Reference.named("25/0")).molar_gross)
    exact = per_heat([1.0], heat, ["methane"], oxygen_in_dry_air=0.209)
    in_air = per_heat([1.0], heat, ["methane"], oxygen_in_dry_air=0.2095)
    rule = float(f_factor_method_19([1.0], heat, ["methane"]))
    for check, value, published, tolerance, clause, note in (
        ("F_d of methane by the rule", rule, 8632, 0.5, "Equation 19-13", "constants from memory"),
        ("F_d of methane from the elements, 20.9 % O2", exact.f_dry, 8624, 0.5, "", "own calculation elsewhere"),
        ("F_d of methane from the elements, 20.95 % O2", in_air.f_dry, 8601, 0.6, "", "own calculation elsewhere"),
        ("F_w of methane from the elements", exact.f_wet, 10637, 0.8, "", "own calculation elsewhere"),
        ("F_c of methane from the elements", exact.f_carbon, 1006.4, 0.06, "", "own calculation elsewhere"),
        ("F_d, rule beside the elements", rule, float(exact.f_dry) / scale, 9, "Equation 19-13", "within 0.1 %"),
    ):
        yield Check(check, "fuel", float(value) / scale, float(published), float(tolerance), "epa_method_19", clause,
                    "scf/MMBtu", note)  # fmt: skip
