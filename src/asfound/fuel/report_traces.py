"""Traces on a laboratory's report: sulfur, siloxanes, water, and hydrogen sulfide by mass per volume of gas.

A cubic metre without its temperature and pressure is no volume of gas: where the report does not say it, it is asked.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from asfound.errors import AmbiguousError, InputError
from asfound.fuel.contaminants import MOLAR_MASS_SULFUR, MOLAR_MASS_WATER, fraction_of, mass_of
from asfound.quantities.parse import parse_amount

_MASS_UNIT = re.compile(
    r"^\s*(?P<unit>(?:[mµuμk]?g|mcg)\s*/\s*(?:[NSs]?[cC]?[uU]?\.?\s?m(?:\^?3|³)|[lL])(?:\s*\([^)\n]{1,30}\))?"
    r"|gr(?:ains?)?\s*/\s*(?:100|hundred|C)\s*[sd]?(?:scf|cf|ft3|ft³|cu\.?\s?ft\.?)(?:\s*\([^)\n]{1,30}\))?"
    r"|lbs?\s*/\s*MM\s*(?:scf|cf)(?:\s*\([^)\n]{1,30}\))?)",
    re.IGNORECASE,
)
_PPM = re.compile(r"^\s*ppm(?:v|\s*\(?(?:mol|vol|v)\b\.?\)?)?(?!\w)", re.IGNORECASE)
_NAMES = (
    (
        "fuel_sulfur",
        r"(?:total|gesamt)\W*(?:sul(?:ph|f)ur|schwefel)|(?:soufre|azufre|zolfo|enxofre) tota[l|e]|schwefel gesamt"
        r"|sul(?:ph|f)ur[, ]+total",
    ),
    ("fuel_siloxanes", r"(?:total |sum of |gesamt)?(?:siloxan|siloxane|siloxanes|siloxanos|siloxani|organosilicon)\w*"),
    (
        "fuel_water",
        r"water (?:vapou?r|content|dew content)|moisture(?: content)?|h2o content|wassergehalt|feuchte|teneur en eau"
        r"|contenido de agua|umidità",
    ),
)
_TRACES = tuple((name, re.compile(rf"^\W*(?:{pattern})\b", re.IGNORECASE)) for name, pattern in _NAMES)
_PER_PPM = {"fuel_sulfur": MOLAR_MASS_SULFUR, "fuel_water": MOLAR_MASS_WATER}
VOLUMES = ("0 C, 101.325 kPa", "15 C, 101.325 kPa", "20 C, 101.325 kPa", "60 F, 14.696 psia", "60 F, 14.73 psia")
"""States that laboratories count their cubic metres and feet at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """Something that the gas carries, by mass."""

    quantity: str
    value: float
    """[kg/m³(n)]"""
    as_typed: str
    below: bool = False
    """Below a limit of the method: ``value`` is that limit."""


def trace_at(line: str) -> tuple[str, str] | None:
    """Return the quantity of a trace that a line begins with, and the rest of the line; None for any other line.

    >>> trace_at("Total sulphur   12 mg/m3(n)")
    ('fuel_sulfur', '12 mg/m3(n)')
    """
    for name, pattern in _TRACES:
        found = pattern.match(line)
        if found:
            return name, line[found.end() :].strip(" \t:;|=.")
    return None


def read_trace(quantity: str, value: float, behind: str, *, below: bool, text: str, volume_at: str) -> Trace:
    """Return a trace from its number and what stands behind it.

    Raises
    ------
    InputError
        The unit is none of a mass per volume; AmbiguousError where the volume does not say its state.
    """
    unit = mass_unit_behind(behind)
    if unit is None:
        if _PPM.match(behind) and quantity in _PER_PPM:
            mass = float(mass_of(value * 1e-6, _PER_PPM[quantity]))
            return Trace(quantity=quantity, value=mass, as_typed=text, below=below)
        raise InputError(quantity, text, "has no unit of mass in a volume of gas behind its number",
                         allowed="mg/m3(n), mg/m3 (15 C, 101.325 kPa), gr/100scf (60 F, 14.73 psia)")  # fmt: skip
    return Trace(quantity=quantity, value=mass_concentration(value, unit, volume_at), as_typed=text, below=below)


def mass_unit_behind(text: str) -> str | None:
    """Return the unit of a mass per volume that a text begins with, spaces taken out of its middle.

    >>> mass_unit_behind(" mg/Nm³   at line"), mass_unit_behind(" %")
    ('mg/Nm³', None)
    """
    found = _MASS_UNIT.match(text)
    return re.sub(r"\s*/\s*", "/", found["unit"]) if found else None


def mass_concentration(value: float, unit: str, volume_at: str = "") -> float:
    """Return a mass per volume of gas at 0 °C and 101.325 kPa. [kg/m³(n)]

    Parameters
    ----------
    value : float
        In ``unit``.
    unit : str
        As the report writes it.
    volume_at : str
        State of the volume, one of `VOLUMES`, where the unit does not say it.

    Raises
    ------
    InputError
        No such unit; AmbiguousError where neither says the state.
    """
    typed = f"{value!r} {unit}"
    try:
        found = parse_amount(typed, quantity="fuel_sulfur", decimal=".").value
    except AmbiguousError:
        if not volume_at:
            raise
        found = parse_amount(f"{typed} ({volume_at})", quantity="fuel_sulfur", decimal=".").value
    assert found is not None
    return float(found)


def trace_fraction(value: float, unit: str, molar_mass: float, volume_at: str = "") -> float:
    """Return the mole fraction of a component that is given by mass per volume; arguments and errors as above.

    >>> print(f"{1e6 * trace_fraction(4.56, 'mg/m3(n)', 34.08088e-3):.2f} ppm")
    3.00 ppm
    """
    return float(fraction_of(mass_concentration(value, unit, volume_at), molar_mass))
