"""From a test to readings of the visit: what each valid run comes to, at the places ``run_1``, ``run_2`` ...

The ordinary worksheets then give each run its rates, and the worksheets of the mean take all runs together. A run that
is invalid for a gas gives no reading of it.
"""

from __future__ import annotations

import math
from datetime import date

from asfound.errors import InputError
from asfound.exhaust.test_run import Basis, EmissionTest, Run
from asfound.exhaust.test_run_judge import Assessment, judge
from asfound.exhaust.test_run_results import Corrected
from asfound.quantities.instruments import class_for, instrument_class, standard_uncertainty
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantities
from asfound.quantities.words import Reading

QUANTITY: dict[tuple[str, Basis], tuple[str, float]] = {
    ("nox", "dry"): ("exhaust_nox_dry", 1.0),
    ("nox", "wet"): ("exhaust_nox_wet", 1.0),
    ("no", "dry"): ("exhaust_no_dry", 1.0),
    ("no2", "dry"): ("exhaust_no2_dry", 1.0),
    ("co", "dry"): ("exhaust_co_dry", 1.0),
    ("co", "wet"): ("exhaust_co_wet", 1.0),
    ("co2", "dry"): ("exhaust_co2_dry", 1.0),
    ("co2", "wet"): ("exhaust_co2_wet", 1.0),
    ("o2", "dry"): ("exhaust_oxygen_dry", 1.0),
    ("o2", "wet"): ("exhaust_oxygen_wet", 1.0),
    ("thc", "wet"): ("exhaust_hydrocarbons_wet", 1.0),
    ("thc_propane", "wet"): ("exhaust_hydrocarbons_wet", 3.0),
    ("thc", "dry"): ("exhaust_hydrocarbons_dry", 1.0),
    ("thc_propane", "dry"): ("exhaust_hydrocarbons_dry", 3.0),
    ("methane", "wet"): ("exhaust_methane_wet", 1.0),
    ("methane", "dry"): ("exhaust_methane_dry", 1.0),
    ("ethane", "wet"): ("exhaust_ethane_wet", 1.0),
    ("voc", "dry"): ("exhaust_voc_dry", 1.0),
    ("formaldehyde", "dry"): ("exhaust_formaldehyde_dry", 1.0),
    ("formaldehyde", "wet"): ("exhaust_formaldehyde_wet", 1.0),
    ("so2", "dry"): ("exhaust_so2_dry", 1.0),
}
"""Quantity of the visit for a gas on a basis, and what a number of the gas counts in it."""
WATER = "exhaust_water_fraction"


def readings_of(test: EmissionTest, *, assessment: Assessment | None = None, entry: str = "") -> list[Reading]:
    """Return the readings that a test brings to a visit.

    Parameters
    ----------
    test : EmissionTest
    assessment : Assessment, optional
        The test as judged, where that was done already.
    entry : str
        Identifier of the entry of the record that holds the test.

    Raises
    ------
    InputError
        A wet result of a gas that a visit keeps dry has no water to dry it by, or the other way round.
    """
    judged = judge(test) if assessment is None else assessment
    found: list[Reading] = []
    for run in test.runs:
        if not judged.valid(run.number):
            continue
        others = _others(test, run, entry)
        found += others
        for gas in run.gases:
            if judged.valid(run.number, gas):
                found.append(_of_gas(test, run, judged.results[run.number, gas], others, entry))
    return _one_each(found)


def _of_gas(test: EmissionTest, run: Run, one: Corrected, others: list[Reading], entry: str) -> Reading:
    """Return a corrected gas as a reading; a wet one of a gas that is kept dry goes through the water of its run."""
    setup = test.gases[one.gas]
    drying, of_drying = 1.0, 0.0
    where = QUANTITY.get((one.gas, setup.basis))
    if where is None:
        other: Basis = "dry" if setup.basis == "wet" else "wet"
        where = QUANTITY[one.gas, other]
        water = next((reading for reading in others if reading.quantity == WATER), None)
        if water is None or not 0 <= water.value < 0.5:
            raise InputError(
                f"runs[{run.number}].readings.{WATER}", water.as_typed if water else "",
                f"is needed to bring {one.gas} from {setup.basis} to {other}", allowed="0 to 50 %",
                try_next="Enter the moisture of the run, by Method 4 or the infrared spectrometer.",
            )  # fmt: skip
        dry = 1 - water.value
        drying = 1 / dry if other == "dry" else dry
        of_drying = water.standard_uncertainty / dry
    quantity, counts = where
    factor = setup.scale * counts * drying
    own = math.hypot(one.standard_uncertainty * factor, one.value * factor * of_drying)
    return Reading(
        quantity=quantity,
        place=run.place,
        state=test.state,
        time=run.end.isoformat(),
        value=one.value * factor,
        unit=quantities()[quantity].si_unit,
        as_typed=f"{one.as_read:.4g} {one.unit}",
        standard_uncertainty=own,
        origin="measured",
        said_by=f"emission test of {test.day}, run {run.number}, {setup.method}, {one.how}: {one.value:.4g} {one.unit}",
        shared_with=f"emission test {test.day}/{test.state}/{one.gas}",
        shared_fraction=min(1.0, (one.shared * factor / own) ** 2) if own > 0 else 0.0,
        entry=entry,
    )


def _others(test: EmissionTest, run: Run, entry: str) -> list[Reading]:
    """Return the other quantities that were read in a run: power, heat, moisture."""
    found = []
    for name, typed in run.readings.items():
        amount = parse_amount(typed, quantity=name, field=f"runs[{run.number}].readings.{name}")
        if amount.value is None:
            continue
        found.append(
            Reading(
                quantity=name,
                place=run.place,
                state=test.state,
                time=run.end.isoformat(),
                value=amount.value,
                unit=quantities()[name].si_unit,
                as_typed=typed,
                standard_uncertainty=_usual(name, amount.value, amount.standard_uncertainty, test.day),
                origin="measured",
                said_by=f"emission test of {test.day}, run {run.number}",
                gauge=amount.gauge,
                shared_with=f"emission test {test.day}/{test.state}/{name}",
                shared_fraction=0.5,
                entry=entry,
            )
        )
    return found


def _usual(name: str, value: float, stated: float | None, day: str) -> float:
    """Return the uncertainty that was typed, else that of the usual class of instrument; 0 where there is none."""
    if stated is not None:
        return stated
    usual = class_for(name)
    if usual is None:
        return 0.0
    return float(standard_uncertainty(instrument_class(usual).specs[name], value, on=date.fromisoformat(day)))


def _one_each(readings: list[Reading]) -> list[Reading]:
    """Return the readings, the first at each key: hydrocarbons may have been counted two ways."""
    found: dict[str, Reading] = {}
    for one in readings:
        found.setdefault(one.key, one)
    return list(found.values())
