"""What the worksheets of the fuel meters take, and from where."""

from __future__ import annotations

from asfound.quantities.worksheets import Assumption, Take

FUEL_METER = "fuel_meter"
"""Where meter readings lie. What nobody read there (pressure, temperature of the gas) is looked for at the engine."""
AT_THE_METER = ("gas",)


def at_meter(quantity: str, assume: Assumption | None = None) -> Take:
    """Return a take of what was read at the meter, else at the engine."""
    return Take(quantity=quantity, place=FUEL_METER, assume=assume)


def assumed(
    quantity: str, value: float, half_width: float, says: str, source: str = "engineering_judgement", place: str = ""
) -> Take:
    """Return a take that falls back on a value as wide as not knowing is."""
    return Take(
        quantity=quantity,
        place=place or FUEL_METER,
        assume=Assumption(
            value=value,
            standard_uncertainty=half_width / 3**0.5,
            says=says,
            source=source,
            distribution="rectangular" if half_width else "normal",
        ),
    )


METER_ERROR = assumed("fuel_meter_error", 0.0, 0.01, "within 1 %, a meter of accuracy class 1", "oiml_r_137")
BASE_FACTOR = assumed(
    "fuel_compression_factor", 0.9977, 0.001, "natural gas at 15 °C, no analysis at hand", place="fuel"
)
LINE_FACTOR = assumed("fuel_line_compressibility", 0.993, 0.007, "natural gas below 6 bar, no analysis at hand")
