"""What the specification of an instrument says about a reading: its standard uncertainty, and what readings share.

A data sheet states a limit of error (or an uncertainty with its coverage factor) of the reading, of the range, or both;
a display ends at a digit; and an instrument drifts from the day it was calibrated. These make one standard uncertainty.
Readings of one quantity by one instrument share a part of their error: its calibration is wrong by the same amount.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from types import MappingProxyType
from typing import Any, Literal

from asfound.errors import InputError, UnknownNameError
from asfound.sources.tables import load_yaml

Coverage = Literal["rectangular", "k2", "k1"]
DIVISORS: Mapping[str, float] = MappingProxyType({"rectangular": math.sqrt(3.0), "k2": 2.0, "k1": 1.0})
"""By what a stated figure is divided: a limit (GUM 4.3.7), an uncertainty with k = 2, a standard uncertainty."""
DAYS_IN_YEAR = 365.25
UNKNOWN_AGE = 2.0
"""Years taken since the last calibration where nobody knows it. Engineering judgement: twice the usual interval."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """What a data sheet states for one quantity.

    Parameters
    ----------
    percent_of_reading : float
        [%]
    absolute : float
        [SI unit of the quantity]
    resolution : float
        Step of the last digit, or of what can be told on a scale. [SI unit of the quantity]
    drift_per_year : float
        Limit of drift since calibration. [SI unit of the quantity per year]
    drift_percent_per_year : float
        The same in per cent of the reading per year. [%]
    coverage : str
        What the stated figures are: limits (``rectangular``), expanded with ``k2``, or standard uncertainties (``k1``).
    combine : str
        ``sum``: percent and absolute add up ('1 % + 2 ppm'); ``larger``: the larger of the two holds ('5 % or 5 ppm').
    shared_fraction : float
        Correlation of two readings of this quantity by this instrument. [0 to 1]
    distribution : str
        Of a reading's error as a whole.
    source : str
        Key in the register of sources.
    """

    percent_of_reading: float = 0.0
    absolute: float = 0.0
    resolution: float = 0.0
    drift_per_year: float = 0.0
    drift_percent_per_year: float = 0.0
    coverage: Coverage = "rectangular"
    combine: Literal["sum", "larger"] = "sum"
    shared_fraction: float = 0.5
    distribution: Literal["normal", "rectangular", "triangular", "arcsine"] = "normal"
    source: str = ""

    def __post_init__(self) -> None:
        for name in ("percent_of_reading", "absolute", "resolution", "drift_per_year", "drift_percent_per_year"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0.0):
                raise InputError(name, f"{value:g}", "cannot stand in a specification", allowed="0 or more")
        if self.coverage not in DIVISORS:
            raise InputError("coverage", self.coverage, "is no meaning of a figure", allowed=", ".join(DIVISORS))
        if self.combine not in ("sum", "larger"):
            raise InputError("combine", self.combine, "does not say how figures combine", allowed="sum, larger")
        if not 0.0 <= self.shared_fraction <= 1.0:
            raise InputError("shared_fraction", f"{self.shared_fraction:g}", "is no correlation", allowed="0 to 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """One instrument: what it reads, how well, and when it was last calibrated."""

    name: str
    serial: str = ""
    specs: Mapping[str, Spec] = field(default_factory=dict)
    """By quantity."""
    calibrated: date | None = None
    interval_months: int | None = 12
    """How often it is to be calibrated; None where there is no rule."""

    def overdue(self, on: date) -> bool | None:
        """Return whether its calibration is overdue on a day; None where the day of calibration is not known."""
        if self.calibrated is None:
            return None
        if self.interval_months is None:
            return False
        years, month = divmod(self.calibrated.month - 1 + self.interval_months, 12)
        # the due day is the same day of the month: the 31st of a short month falls on the next first
        return (on.year, on.month, on.day) > (self.calibrated.year + years, month + 1, self.calibrated.day)

    def error_of(self, quantity: str, value: float, *, on: date | None = None) -> ReadingError:
        """Return the error of one reading by this instrument.

        Parameters
        ----------
        quantity : str
        value : float
            The reading. [SI unit of the quantity]
        on : date, optional
            Day of the reading, for the drift.

        Raises
        ------
        UnknownNameError
            The instrument has no specification for the quantity.
        """
        spec = self.specs.get(quantity)
        if spec is None:
            raise UnknownNameError(f"quantity of '{self.name}'", quantity, self.specs)
        shared = f"{self.serial or self.name}/{quantity}"
        return ReadingError(
            standard_uncertainty=standard_uncertainty(spec, value, on=on, calibrated=self.calibrated),
            shared_with=shared if spec.shared_fraction > 0.0 else "",
            shared_fraction=spec.shared_fraction,
            distribution=spec.distribution,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingError:
    """What a `Reading` says of its error: the fields have the same names there."""

    standard_uncertainty: float
    shared_with: str
    shared_fraction: float
    distribution: Literal["normal", "rectangular", "triangular", "arcsine"]


def standard_uncertainty(spec: Spec, value: float, *, on: date | None = None, calibrated: date | None = None) -> float:
    """Return the standard uncertainty of one reading. [SI unit of the quantity]

    Parameters
    ----------
    spec : Spec
    value : float
        The reading. For a pressure on the basis that the instrument reads (gauge as gauge).
    on, calibrated : date, optional
        Day of the reading and of the calibration. Where one is not known, `UNKNOWN_AGE` years of drift are taken.

    Raises
    ------
    InputError
        The value is not finite, or the reading was taken before the calibration.

    References
    ----------
    .. [1] JCGM 100:2008 4.3.4 (stated with k), 4.3.7 (limits: a / sqrt 3), F.2.2.1 (resolution: step / sqrt 12);
       parts added by their squares (5.1.2).

    Examples
    --------
    A portable analyser's '5 % of reading or 5 ppm', the larger, at 100 ppm.

    >>> spec = Spec(percent_of_reading=5, absolute=5e-6, combine="larger", resolution=1e-6)
    >>> f"{1e6 * standard_uncertainty(spec, 100e-6):.2f} ppm"
    '2.90 ppm'
    """
    if not math.isfinite(value):
        raise InputError("value", f"{value:g}", "is no reading", allowed="a finite number")
    of_reading = 0.01 * spec.percent_of_reading * abs(value)
    stated = max(of_reading, spec.absolute) if spec.combine == "larger" else of_reading + spec.absolute
    drift = (spec.drift_per_year + 0.01 * spec.drift_percent_per_year * abs(value)) * _years(on, calibrated)
    return math.hypot(stated / DIVISORS[spec.coverage], drift / math.sqrt(3.0), spec.resolution / math.sqrt(12.0))


@cache
def classes() -> Mapping[str, Instrument]:
    """Return generic classes of instrument, by name: for a reading whose instrument has no data sheet at hand."""
    found: dict[str, Instrument] = {}
    for key, row in load_yaml("asfound.quantities", "data/instruments.yaml")["classes"].items():
        common: dict[str, Any] = row["specs"]
        source = {"source": row["source"]}
        specs = {name: Spec(**(source | one)) for names, one in common.items() for name in names.split()}
        found[key] = Instrument(
            name=row["title"], specs=MappingProxyType(specs), interval_months=row["interval_months"]
        )
    return MappingProxyType(found)


def instrument_class(name: str) -> Instrument:
    """Return the generic class of that name; UnknownNameError where there is none."""
    if name not in classes():
        raise UnknownNameError("class of instrument", name, classes())
    return classes()[name]


def class_for(quantity: str) -> str | None:
    """Return the name of the first generic class that reads a quantity; None where none does."""
    return next((name for name, one in classes().items() if quantity in one.specs), None)


def _years(on: date | None, calibrated: date | None) -> float:
    """Return the years from calibration to reading."""
    if on is None or calibrated is None:
        return UNKNOWN_AGE
    days = (on - calibrated).days
    if days < 0:
        raise InputError(
            "calibrated", calibrated.isoformat(), f"is after the reading of {on.isoformat()}",
            allowed="the day of the reading or before", try_next="Enter the calibration that held on that day.",
        )  # fmt: skip
    return days / DAYS_IN_YEAR
