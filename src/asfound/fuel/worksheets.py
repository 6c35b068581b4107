"""Worksheets of the fuel gas."""

from __future__ import annotations

from asfound.fuel.elements import ATOMS, atoms
from asfound.quantities.typing import Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Take, worksheet


@worksheet(
    title="Atoms in a mole of the gas",
    takes=tuple(
        Take(
            quantity=name,
            place="fuel",
            optional=name != "fuel_methane",
            default=None if name == "fuel_methane" else 0.0,
        )
        for name in ATOMS
    ),
    gives=("fuel_carbon_atoms", "fuel_hydrogen_atoms", "fuel_oxygen_atoms", "fuel_nitrogen_atoms"),
    at="fuel",
    method=Method("count of atoms by component; C6+ as hexane", "own_calculation"),
)
def atoms_of_the_gas(
    methane: Values,
    ethane: Values,
    propane: Values,
    isobutane: Values,
    butane: Values,
    isopentane: Values,
    pentane: Values,
    hexanes_plus: Values,
    nitrogen: Values,
    carbon_dioxide: Values,
    oxygen: Values,
    hydrogen: Values,
    carbon_monoxide: Values,
) -> tuple[Values, Values, Values, Values]:
    """Count carbon, hydrogen, oxygen and nitrogen in a mole of the gas that was analysed.

    A component that the analysis does not name counts as zero. [mol/mol]
    """
    return atoms(
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide,
    )  # fmt: skip


@worksheet(
    title="Heat in the fuel, gross",
    takes=("fuel_flow", Take(quantity="gross_heating_value", place="fuel")),
    gives="fuel_heat_input",
    at="engine",
    method=Method("flow times gross heating value, both at one reference state", "common_practice"),
    cautions=("gas",),
)
def fuel_heat_input(flow: Values, heating_value: Values) -> Values:
    """Return the gross heat that the fuel brings per second. [W]"""
    return flow * heating_value
