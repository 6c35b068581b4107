"""Worksheets of the machine figures: compression, firing and ignition of each cylinder, plugs, valves, blow-by."""

from __future__ import annotations

from collections.abc import Callable
from math import pi, sqrt

import numpy as np

from asfound.cylinders import blow_by, compression, plugs, refusals, wear
from asfound.cylinders.robust import median, valid_count
from asfound.cylinders.spread import FEWEST_FOR_MEDIAN
from asfound.quantities.typing import Array, Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Assumption, Refusal, Take, worksheet

ISOLATED = ("loto", "barring", "local")
SPARK = ("hv", "local")
COMPARED = Method("each cylinder against the median of those read", "common_practice")
POLYTROPIC = Method("polytropic compression from the manifold", "heywood_1988", "chapter 2, slider-crank; 5, exponent")
PASCHEN = Method("breakdown of air by density and gap (Paschen)", "paschen_fit")
MEAN_RATE = Method("change since new over the running hours", "common_practice")
LIMIT_AT_RATE = Method("room to the limit over the mean rate", "common_practice")


def _assumed(quantity: str, value: float, half_width: float, says: str, place: str = "same") -> Take:
    return Take(
        quantity=quantity,
        place=place,
        assume=Assumption(
            value=value,
            standard_uncertainty=half_width / sqrt(3.0),
            says=says,
            source="engineering_judgement",
            distribution="rectangular",
        ),
    )


EXPONENT = _assumed("compression_exponent", compression.EXPONENT, 0.03, "1.29 to 1.35: lean charge, cooled walls")
COMPRESSED = {
    "compression_ratio": refusals.RATIO,
    "manifold_pressure": refusals.PRESSURE,
}
REFUSES = {
    "plug_gap": refusals.GAP,
    "plug_gap_new": refusals.GAP,
    "plug_gap_limit": refusals.GAP,
    "plug_hours": refusals.HOURS,
    "valve_hours": refusals.HOURS,
    "intake_valve_recession": refusals.RECESSION,
    "exhaust_valve_recession": refusals.RECESSION,
    "ignition_demand": refusals.VOLTAGE,
    "compression_pressure": refusals.PRESSURE,
    "peak_firing_pressure": refusals.PRESSURE,
}
FIELD = _assumed("plug_field_factor", 0.8, 0.25, "0.55 to 1.05 of plane electrodes: edges, heat and ions lower it")
BREATHER = _assumed("blow_by_temperature", 333.15, 25.0, "35 to 85 degC at the breather", place="engine")


def _refused(*quantities: str) -> dict[str, Refusal]:
    """Return what refuses nonsense among the quantities that a worksheet takes."""
    return {one: REFUSES[one] for one in quantities if one in REFUSES}


def _median_of(quantity: str, gives: str, title: str, cautions: tuple[str, ...]) -> Callable[..., Values]:
    """Register the median of a figure of all cylinders."""

    def formula(each: Array) -> Values:
        given = np.asarray(each, dtype=float).T
        middle: Array = np.where(valid_count(given) >= FEWEST_FOR_MEDIAN, median(given), np.nan)
        return middle

    formula.__name__ = f"{gives}_of_cylinders"
    formula.__doc__ = "Return the median of the cylinders read; no answer with fewer than three. [SI]"
    return worksheet(
        title=title,
        takes=(Take(quantity=quantity, place="cylinder_*", each=True, some=True),),
        gives=gives,
        method=Method("median of the cylinders read", "own_calculation"),
        cautions=cautions,
    )(formula)


def _share_off(quantity: str, middle: str, gives: str, title: str, cautions: tuple[str, ...]) -> Callable[..., Values]:
    """Register a cylinder's figure against the median, over the median."""

    def formula(own: Values, middle: Values) -> Values:
        return own / middle - 1.0

    formula.__name__ = f"{gives}_from_median"
    formula.__doc__ = "Return how far a cylinder is off the median of all, over the median. [1]"
    return worksheet(
        title=title,
        takes=(quantity, middle),
        gives=gives,
        method=COMPARED,
        cautions=cautions,
        refuses=_refused(quantity),
    )(formula)


MEDIANS = (
    _median_of("compression_pressure", "compression_median", "Median compression pressure", ("pressure", *ISOLATED)),
    _median_of("peak_firing_pressure", "peak_firing_median", "Median peak firing pressure", ("pressure", "hot")),
    _median_of("ignition_demand", "ignition_demand_median", "Median ignition voltage demand", SPARK),
)
SHARES = (
    _share_off(
        "compression_pressure",
        "compression_median",
        "compression_deviation",
        "Compression pressure against the other cylinders",
        ("pressure", *ISOLATED),
    ),
    _share_off(
        "peak_firing_pressure",
        "peak_firing_median",
        "peak_firing_deviation",
        "Peak firing pressure against the other cylinders",
        ("pressure", "hot"),
    ),
)


@worksheet(
    title="Ignition voltage demand against the other cylinders",
    takes=("ignition_demand", "ignition_demand_median"),
    gives="ignition_demand_deviation",
    method=COMPARED,
    cautions=SPARK,
)
def ignition_demand_deviation(demand: Values, middle: Values) -> Values:
    """Return how far a cylinder's voltage demand is off the median of all. [V]"""
    return demand - middle


@worksheet(
    title="Compression pressure to be expected",
    takes=("manifold_pressure", "compression_ratio", EXPONENT),
    gives="compression_expected",
    method=POLYTROPIC,
    cautions=("pressure",),
    refuses=COMPRESSED,
)
def compression_expected(intake: Values, ratio: Values, exponent: Values) -> Values:
    """Return the pressure at top dead centre without firing, by geometric ratio, at operating speed. [Pa]"""
    return compression.polytropic_pressure(intake, ratio, exponent)


@worksheet(
    title="Compression pressure over the expected",
    takes=("compression_pressure", "compression_expected"),
    gives="compression_against_expected",
    method=Method("read over expected", "own_calculation"),
    cautions=("pressure", *ISOLATED),
)
def compression_against_expected(read: Values, expected: Values) -> Values:
    """Return the compression pressure read over that expected from the intake pressure of the same state. [1]"""
    return read / expected


@worksheet(
    title="Charge at the spark",
    takes=("manifold_pressure", "manifold_temperature", "compression_ratio", "ignition_timing", EXPONENT),
    gives=("spark_pressure", "spark_temperature"),
    method=POLYTROPIC,
    refuses=COMPRESSED,
)
def charge_at_spark(
    pressure: Values, temperature: Values, ratio: Values, timing: Values, exponent: Values
) -> tuple[Values, Values]:
    """Return pressure and temperature of the charge where the spark is, before anything burns. [Pa], [K]"""
    volumes = ratio / compression.volume_ratio(timing, ratio)
    return (
        compression.polytropic_pressure(pressure, volumes, exponent),
        compression.polytropic_temperature(temperature, volumes, exponent),
    )


@worksheet(
    title="Voltage that the plug needs, estimated",
    takes=("plug_gap", "spark_pressure", "spark_temperature", FIELD),
    gives="plug_required_voltage",
    method=PASCHEN,
    cautions=SPARK,
    refuses=_refused("plug_gap"),
)
def plug_required_voltage(gap: Values, pressure: Values, temperature: Values, field: Values) -> Values:
    """Return the voltage that a plug needs, by gap and density of the charge: a trend, the level to a third. [V]"""
    return field * plugs.uniform_breakdown(gap, plugs.relative_density(pressure, temperature))


@worksheet(
    title="Voltage demand at the largest gap",
    takes=("ignition_demand", "plug_gap", "plug_gap_limit", "spark_pressure", "spark_temperature"),
    gives="plug_voltage_at_limit",
    method=PASCHEN,
    cautions=SPARK,
    refuses=_refused("ignition_demand", "plug_gap", "plug_gap_limit"),
)
def plug_voltage_at_limit(
    demand: Values, gap: Values, largest: Values, pressure: Values, temperature: Values
) -> Values:
    """Return the demand read, carried to the largest gap allowed in the same charge. [V]"""
    return plugs.demand_at_gap(demand, gap, largest, plugs.relative_density(pressure, temperature))


def _rate(now: str, new: str | None, hours: str, gives: str, title: str) -> Callable[..., Values]:
    """Register a mean wear rate; what has no reading when new began at zero."""
    takes = (now, new, hours) if new else (now, hours)

    def from_new(worn: Values, fresh: Values, ran: Values) -> Values:
        return wear.rate(worn, fresh, ran)

    def from_zero(worn: Values, ran: Values) -> Values:
        return wear.rate(worn, 0.0, ran)

    formula: Callable[..., Values] = from_new if new else from_zero
    formula.__name__ = f"{gives}_since_new"
    formula.__doc__ = "Return the mean rate of wear since new. [m/s]"
    return worksheet(
        title=title, takes=takes, gives=gives, method=MEAN_RATE, cautions=ISOLATED, refuses=_refused(*takes)
    )(formula)


def _left(now: str, limit: str, rate: str, gives: str, title: str) -> Callable[..., Values]:
    """Register the running time left to a limit; no answer where nothing wears: never at this rate."""

    def formula(worn: Values, largest: Values, speed: Values) -> Values:
        left = wear.time_left(worn, largest, speed)
        answer: Values = np.where(np.isfinite(left), left, np.nan)
        return answer

    formula.__name__ = f"{gives}_at_rate"
    formula.__doc__ = "Return the running time until the limit at the mean rate so far; 0 when it is reached. [s]"
    return worksheet(
        title=title,
        takes=(now, limit, rate),
        gives=gives,
        method=LIMIT_AT_RATE,
        cautions=ISOLATED,
        refuses=_refused(now, limit),
    )(formula)


RATES = (
    _rate("plug_gap", "plug_gap_new", "plug_hours", "plug_gap_growth", "Growth of the plug gap"),
    _rate("intake_valve_recession", None, "valve_hours", "intake_recession_rate", "Intake valve recession rate"),
    _rate("exhaust_valve_recession", None, "valve_hours", "exhaust_recession_rate", "Exhaust valve recession rate"),
)
TIMES_LEFT = (
    _left(
        "plug_gap",
        "plug_gap_limit",
        "plug_gap_growth",
        "plug_hours_to_limit",
        "Hours until the plug gap is at its limit",
    ),
    _left(
        "intake_valve_recession",
        "intake_recession_limit",
        "intake_recession_rate",
        "intake_hours_to_limit",
        "Hours until intake recession is at its limit",
    ),
    _left(
        "exhaust_valve_recession",
        "exhaust_recession_limit",
        "exhaust_recession_rate",
        "exhaust_hours_to_limit",
        "Hours until exhaust recession is at its limit",
    ),
)


@worksheet(
    title="Blow-by over charge",
    takes=(
        Take(quantity="blow_by_flow", place="engine"),
        Take(quantity="barometric_pressure", place="site"),
        BREATHER,
        Take(quantity="swept_volume", place="engine"),
        Take(quantity="engine_speed", place="engine"),
        Take(quantity="manifold_pressure", place="engine"),
        Take(quantity="manifold_temperature", place="engine"),
    ),
    gives="blow_by_share",
    method=Method("amount at the breather over amount swept, four strokes", "own_calculation"),
    cautions=("crankcase", "local"),
    valid={"engine_speed": (0.1, 2.0 * pi * 50.0, "a turning four-stroke engine")},
)
def blow_by_over_charge(
    flow: Values,
    ambient: Values,
    temperature: Values,
    swept: Values,
    speed: Values,
    manifold: Values,
    manifold_temperature: Values,
) -> Values:
    """Return blow-by over the charge swept at manifold state, four strokes. [1]"""
    charge = blow_by.charge_flow(swept, speed)
    return blow_by.blow_by_share(flow, ambient, temperature, charge, manifold, manifold_temperature)
