"""An emission test as the plain dict that a file or the record holds, and back."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from asfound.errors import InputError, UnknownNameError
from asfound.exhaust.test_run import GASES, EmissionTest, Read, Run, Setup, Unit, methods, rules_of_tests
from asfound.exhaust.test_run_fields import Fields, number_of
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantities

LARGEST_PPM = 1e6
SETUP_FIELDS = (
    "method", "unit", "basis", "span", "zero_gas", "upscale_gas", "direct", "gas_uncertainty_percent", "zero_readings",
    "converter", "limit", "stratification", "checks",
)  # fmt: skip
RUN_FIELDS = ("number", "start", "end", "load_percent", "undisturbed", "readings", "gases")
READ_FIELDS = ("average", "zero", "upscale", "minutes", "upscale_readings")
TEST_FIELDS = (
    "rule", "state", "by", "stack_diameter_mm", "sample_points", "far_from_disturbance", "highest_achievable_load",
    "engine_hours", "peak_power_kw", "gases", "runs",
)  # fmt: skip


def emission_test_of(given: Mapping[str, Any]) -> EmissionTest:
    """Return the test that a plain dict describes; see `EmissionTest.from_dict`."""
    fields = Fields(given, "", TEST_FIELDS)
    gases = {gas: _setup(gas, value) for gas, value in fields.table("gases").items()}
    if not gases:
        raise InputError("gases", "", "names no gas", allowed=", ".join(GASES), try_next="Enter at least one.")
    listed = fields.given.get("runs", ())
    if not isinstance(listed, list | tuple) or not listed:
        raise InputError("runs", str(listed)[:40], "holds no run", try_next="Enter each run with start and end.")
    runs = tuple(sorted((_run(one, at, gases) for at, one in enumerate(listed, start=1)), key=lambda r: r.number))
    _no_two_at_once(runs)
    points = fields.maybe("sample_points", low=1, high=200)
    diameter = fields.maybe("stack_diameter_mm", low=20, high=20_000, says="20 to 20,000 mm")
    peak = fields.maybe("peak_power_kw", low=1, high=1e5, says="1 to 100,000 kW")
    state = fields.choice("state", ("as_found", "as_left"), "as_found")
    return EmissionTest(
        rule=fields.choice("rule", rules_of_tests(), "free"),
        gases=gases,
        runs=runs,
        state="as_left" if state == "as_left" else "as_found",
        by=fields.text("by"),
        stack_diameter=None if diameter is None else diameter / 1e3,
        sample_points=None if points is None else int(points),
        far_from_disturbance=fields.flag("far_from_disturbance", False) if fields.has("far_from_disturbance") else None,
        highest_achievable_load=fields.text("highest_achievable_load"),
        engine_hours=fields.maybe("engine_hours", low=0, high=1e6),
        peak_power=None if peak is None else peak * 1e3,
    )


def dict_of(test: EmissionTest) -> dict[str, Any]:
    """Return a test as a plain dict; see `EmissionTest.to_dict`."""
    out: dict[str, Any] = {"rule": test.rule, "state": test.state, "by": test.by}
    if test.stack_diameter is not None:
        out["stack_diameter_mm"] = round(test.stack_diameter * 1e3, 6)
    out |= {"sample_points": test.sample_points, "far_from_disturbance": test.far_from_disturbance}
    out |= {"highest_achievable_load": test.highest_achievable_load, "engine_hours": test.engine_hours}
    out["peak_power_kw"] = None if test.peak_power is None else round(test.peak_power / 1e3, 9)
    out["gases"] = {gas: _setup_dict(setup) for gas, setup in test.gases.items()}
    out["runs"] = [_run_dict(run) for run in test.runs]
    return dict(_without_empty(out).items())


def _setup(gas: str, given: object) -> Setup:
    """Return one gas of the test."""
    if gas not in GASES:
        raise InputError(f"gases.{gas}", gas, "is no gas of a test", allowed=", ".join(GASES))
    fields = Fields(given, f"gases.{gas}", SETUP_FIELDS)
    method = fields.choice("method", methods())
    fits = methods()[method]["gases"].split()
    if gas not in fits:
        raise InputError(
            fields.place("method"), method, f"is not a method for {gas}", allowed=f"{method}: {', '.join(fits)}",
            try_next="Look at the method of this gas in the test report.",
        )  # fmt: skip
    unit: Unit = "%" if fields.choice("unit", ("ppm", "%"), "%" if gas in ("o2", "co2") else "ppm") == "%" else "ppm"
    most = 100.0 if unit == "%" else LARGEST_PPM
    uncertainty = fields.maybe("gas_uncertainty_percent", low=0, high=50, says="0 to 50 %")
    converter = fields.pair("converter", "[certified NO2, NOx read on it]")
    wet = fields.choice("basis", ("dry", "wet"), "dry") == "wet"
    direct = fields.pairs("direct", "[[certified, read], ...]")
    span = fields.maybe("span", low=most * 1e-9, high=most)
    if span is None and direct and methods()[method]["correction"] == "bias":
        span = max(gas for gas, _ in direct) or None  # the calibration span is the high gas (Method 7E sec. 3.4)
    return Setup(
        gas=gas,
        method=method,
        unit=unit,
        basis="wet" if wet else "dry",
        span=span,
        zero_gas=fields.maybe("zero_gas", low=0, high=most) or 0.0,
        upscale_gas=fields.maybe("upscale_gas", low=most * 1e-9, high=most),
        direct=direct,
        gas_uncertainty=None if uncertainty is None else uncertainty / 100,
        zero_readings=fields.numbers("zero_readings"),
        converter=converter,
        limit=fields.maybe("limit", low=0, high=most),
        stratification=fields.numbers("stratification"),
        checks={one: number_of(value, fields.place(f"checks.{one}")) for one, value in fields.table("checks").items()},
    )  # fmt: skip


def _run(given: object, at: int, gases: Mapping[str, Setup]) -> Run:
    """Return one run."""
    where = f"runs[{at}]"
    fields = Fields(given, where, RUN_FIELDS)
    start, end = fields.time("start"), fields.time("end")
    if not 0 < (end - start).total_seconds() <= 86_400 * 2:
        raise InputError(
            f"{where}.end", end.isoformat(), f"is no end of a run that began {start.isoformat()}",
            allowed="after its start, within two days", try_next="Look at date and offset of both times.",
        )  # fmt: skip
    load = fields.maybe("load_percent", low=0, high=150, says="0 to 150 % of peak load")
    number = fields.number("number", low=1, high=99) if fields.has("number") else float(at)
    read = {}
    for gas, value in fields.table("gases").items():
        if gas not in gases:
            raise InputError(
                f"{where}.gases.{gas}", gas, "is no gas that the test names", allowed=", ".join(gases),
                try_next="Name it, with its method, under gases of the test.",
            )  # fmt: skip
        read[gas] = _read(value, f"{where}.gases.{gas}", gases[gas])
    return Run(
        number=int(number),
        start=start,
        end=end,
        load=None if load is None else load / 100,
        undisturbed=fields.flag("undisturbed", True),
        readings={name: _typed(name, value, where) for name, value in fields.table("readings").items()},
        gases=read,
    )


def _typed(name: str, value: object, where: str) -> str:
    """Return another quantity of a run as typed, once it is known that it can be read."""
    field = f"{where}.readings.{name}"
    if name not in quantities():
        near = UnknownNameError("quantity", name, quantities()).near
        raise InputError(field, str(value), "is of no quantity that is known", allowed=" or ".join(near),
                         try_next="See docs/quantities.md.")  # fmt: skip
    parse_amount(str(value), quantity=name, field=field)
    return str(value)


def _read(given: object, where: str, setup: Setup) -> Read:
    """Return what was read of one gas for one run."""
    fields = Fields(given, where, READ_FIELDS)
    most = 100.0 if setup.unit == "%" else LARGEST_PPM
    minutes = fields.numbers("minutes")
    if minutes and not fields.has("average"):
        average = sum(minutes) / len(minutes)
    else:
        average = fields.number("average", low=-0.05 * most, high=most, says=f"a number in {setup.unit}")
    says = "[before, after]"
    return Read(
        average=average,
        zero=fields.pair("zero", says),
        upscale=fields.pair("upscale", says),
        minutes=minutes,
        upscale_readings=fields.numbers("upscale_readings"),
    )


def _no_two_at_once(runs: tuple[Run, ...]) -> None:
    """Refuse runs that bear one number or overlap in time."""
    for one, two in pairwise(runs):
        if one.number == two.number:
            raise InputError("runs", str(one.number), "is the number of two runs", try_next="Number them 1, 2, 3.")
    by_time = sorted(runs, key=lambda run: run.start)
    for one, two in pairwise(by_time):
        if two.start < one.end:
            raise InputError(
                f"run {two.number}.start", two.start.isoformat(), f"lies inside run {one.number}",
                allowed=f"not before {one.end.isoformat()}", try_next="Runs are separate: look at the times.",
            )  # fmt: skip


def _setup_dict(one: Setup) -> dict[str, Any]:
    return {
        "method": one.method, "unit": one.unit, "basis": one.basis, "span": one.span, "zero_gas": one.zero_gas,
        "upscale_gas": one.upscale_gas, "direct": [list(pair) for pair in one.direct],
        "gas_uncertainty_percent": None if one.gas_uncertainty is None else round(one.gas_uncertainty * 100, 9),
        "zero_readings": list(one.zero_readings), "converter": list(one.converter) if one.converter else None,
        "limit": one.limit, "stratification": list(one.stratification), "checks": dict(one.checks),
    }  # fmt: skip


def _run_dict(run: Run) -> dict[str, Any]:
    return {
        "number": run.number, "start": run.start.isoformat(), "end": run.end.isoformat(),
        "load_percent": None if run.load is None else round(run.load * 100, 9), "undisturbed": run.undisturbed,
        "readings": dict(run.readings),
        "gases": {
            gas: {
                "average": read.average, "zero": list(read.zero) if read.zero else None,
                "upscale": list(read.upscale) if read.upscale else None, "minutes": list(read.minutes),
                "upscale_readings": list(read.upscale_readings),
            }
            for gas, read in run.gases.items()
        },
    }  # fmt: skip


def _without_empty(given: Any) -> Any:
    """Return a dict without fields that hold nothing."""
    if isinstance(given, dict):
        return {name: _without_empty(value) for name, value in given.items() if value not in (None, "", [], {})}
    return [_without_empty(one) for one in given] if isinstance(given, list) else given
