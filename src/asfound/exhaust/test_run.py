"""An emission test: several runs, the gases and their analysers, what was read before, during and after each run.

`EmissionTest.from_dict` takes the plain dict that a file or the record holds; `to_dict` gives it back. All numbers of
one gas are in that gas's own unit, ppm or per cent. The layout is described in docs/exhaust.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from types import MappingProxyType
from typing import Any, Literal

from asfound.exhaust.test_run_fields import Pair
from asfound.quantities.parse import parse_amount
from asfound.sources.tables import load_csv

Unit = Literal["ppm", "%"]
Basis = Literal["dry", "wet"]
GASES = ("nox", "no", "no2", "co", "co2", "o2", "thc", "thc_propane", "voc", "formaldehyde", "methane", "ethane", "so2")
"""``thc`` counts as one carbon, ``thc_propane`` as propane (three)."""
TITLES = {
    "nox": "NOx", "thc": "THC", "thc_propane": "THC as propane", "voc": "VOC", "formaldehyde": "formaldehyde",
    "methane": "methane", "ethane": "ethane",
}  # fmt: skip


POWER = "engine_power"


def title_of(gas: str) -> str:
    """Return how people write a gas: ``NOx``, ``O2``."""
    return TITLES.get(gas, gas.upper())


@cache
def methods() -> Mapping[str, Mapping[str, str]]:
    """Return the methods that are known, by their key."""
    return MappingProxyType({row["method"]: row for row in load_csv("asfound.exhaust", "data/test_methods.csv")})


@cache
def rules_of_tests() -> Mapping[str, Mapping[str, str]]:
    """Return the rules under which a test can be made, by their key."""
    return MappingProxyType({row["rule"]: row for row in load_csv("asfound.exhaust", "data/test_rules.csv")})


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """A gas of the test: how it was measured, with which calibration gases. Numbers in ``unit``."""

    gas: str
    method: str
    unit: Unit
    basis: Basis = "dry"
    span: float | None = None
    """Calibration span, or the range of the analyser."""
    zero_gas: float = 0.0
    """Certified; a low gas that holds something may stand for zero."""
    upscale_gas: float | None = None
    direct: tuple[Pair, ...] = ()
    """(certified, read) of each gas led straight into the analyser."""
    gas_uncertainty: float | None = None
    """Of the certified gas, expanded (k = 2), as a share. [1]"""
    zero_readings: tuple[float, ...] = ()
    converter: Pair | None = None
    """(certified NO2, NOx read on it)."""
    limit: float | None = None
    """Limit in the unit as measured, where a criterion counts in it."""
    stratification: tuple[float, ...] = ()
    """Means at the points of the stratification test."""
    checks: Mapping[str, float] = field(default_factory=dict)
    """Values that only a person can give, by the criterion's id: ``320.spike``."""

    @property
    def scale(self) -> float:
        """What makes a mole fraction of a number in ``unit``."""
        return 1e-6 if self.unit == "ppm" else 1e-2

    def read_on(self, certified: float | None) -> float | None:
        """Return what the analyser by itself read on a certified gas; None where that was not noted."""
        if certified is None:
            return None
        near = max(1e-9, 1e-3 * (self.span or abs(certified)))
        return next((read for gas, read in self.direct if abs(gas - certified) <= near), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """What was read of one gas for one run. Numbers in the unit of the gas."""

    average: float
    zero: Pair | None = None
    """System readings on the zero gas, before and after the run."""
    upscale: Pair | None = None
    minutes: tuple[float, ...] = ()
    upscale_readings: tuple[float, ...] = ()
    """The single readings of an up-scale check, where the method asks for each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One run of the test."""

    number: int
    start: datetime
    end: datetime
    load: float | None
    """Of 100 per cent peak load, as entered; see `EmissionTest.load_of`. [1]"""
    undisturbed: bool = True
    """No start-up, shutdown or malfunction fell into it."""
    readings: Mapping[str, str] = field(default_factory=dict)
    """Other quantities of the run as typed: ``{"engine_power": "1,300 kW"}``."""
    gases: Mapping[str, Read] = field(default_factory=dict)

    @property
    def minutes(self) -> float:
        """How long it was. [min]"""
        return (self.end - self.start).total_seconds() / 60

    @property
    def place(self) -> str:
        """Where its readings lie on the visit."""
        return f"run_{self.number}"


@dataclass(frozen=True, slots=True, kw_only=True)
class EmissionTest:
    """A formal test, or one made like it."""

    rule: str
    gases: Mapping[str, Setup]
    runs: tuple[Run, ...]
    state: Literal["as_found", "as_left"] = "as_found"
    by: str = ""
    stack_diameter: float | None = None
    """[m]"""
    sample_points: int | None = None
    far_from_disturbance: bool | None = None
    """Two diameters down stream and half a diameter up stream of a bend or damper, at least."""
    highest_achievable_load: str = ""
    """Why no more load could be reached; then the load need not be near 100 %."""
    engine_hours: float | None = None
    """At the test. [h]"""
    peak_power: float | None = None
    """100 per cent load of the engine at the site; with the power read in a run it gives the run's load. [W]"""

    @property
    def day(self) -> str:
        """Day of its first run, ISO 8601."""
        return min(run.start for run in self.runs).date().isoformat()

    def load_of(self, run: Run) -> float | None:
        """Return the load of a run: as entered, else the power read in it over the peak power; None without. [1]"""
        if run.load is not None or self.peak_power is None or POWER not in run.readings:
            return run.load
        power = parse_amount(run.readings[POWER], quantity=POWER).value
        return None if power is None else power / self.peak_power

    @classmethod
    def from_dict(cls, given: Mapping[str, Any]) -> EmissionTest:
        """Return the test that a plain dict describes.

        Raises
        ------
        InputError
            A field is missing, unknown or cannot be; it names the field by its place, what was given, what is allowed.
        """
        from asfound.exhaust.test_run_dict import emission_test_of

        return emission_test_of(given)

    def to_dict(self) -> dict[str, Any]:
        """Return the test as the plain dict that `from_dict` takes; only plain types, for JSON."""
        from asfound.exhaust.test_run_dict import dict_of

        return dict_of(self)
