"""What each criterion of a method is measured by: from the readings of a test to the number that its bounds are for."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from asfound.exhaust import calibration
from asfound.exhaust.test_run import Read, Setup
from asfound.exhaust.test_run_criteria import Criterion


@dataclass(frozen=True, slots=True)
class Measured:
    """A value in the unit of its criterion, with its size in the unit of the gas, and what it is of."""

    value: float
    absolute: float | None = None
    of: str = ""


class LackingError(Exception):
    """A criterion cannot be measured; says what to enter."""


Once = Callable[[Criterion, Setup], Measured]
PerRun = Callable[[Criterion, Setup, Read], Measured]


def whole_of(criterion: Criterion, setup: Setup, mean: float | None = None) -> float:
    """Return what 100 per cent is, in the unit of the gas."""
    of = criterion.unit.removeprefix("% of ")
    found = {"span": setup.span, "range": setup.span, "mean": mean, "reading": mean, "limit": setup.limit}.get(
        of, setup.upscale_gas
    )
    if criterion.unit == "% absolute":
        return 100.0
    if found is None:
        raise LackingError({"span": "span", "range": "span", "limit": "limit"}.get(of, "upscale_gas"))
    return found


def largest(
    criterion: Criterion, setup: Setup, differences: Iterable[tuple[str, float]], mean: float | None = None
) -> Measured:
    """Return the largest of some differences in the unit of the gas, as a share and by itself."""
    of, difference = max(differences, key=lambda one: abs(one[1]))
    whole = whole_of(criterion, setup, mean)
    same = criterion.alternative_unit.split(" ")[0] in (setup.unit, "")
    return Measured(float(100 * calibration.share_of(difference, whole)), difference if same else None, of)


def _pairs(read: Read) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return zero and up-scale readings, each before and after the run."""
    if read.zero is None or read.upscale is None:
        raise LackingError("zero and upscale, before and after")
    return read.zero, read.upscale


def _direct(setup: Setup) -> tuple[tuple[float, float], ...]:
    if not setup.direct:
        raise LackingError("direct: each gas and what the analyser by itself read on it")
    return setup.direct


def calibration_error(criterion: Criterion, setup: Setup) -> Measured:
    """Largest error of the analyser by itself."""
    return largest(criterion, setup, [(f"gas {gas:g} {setup.unit}", read - gas) for gas, read in _direct(setup)])


def bias(criterion: Criterion, setup: Setup, read: Read) -> Measured:
    """Largest difference of the system's readings from the analyser's own on the same gas."""
    zero, upscale = _pairs(read)
    at_zero, at_upscale = setup.read_on(setup.zero_gas), setup.read_on(setup.upscale_gas)
    if at_zero is None or at_upscale is None:
        raise LackingError("direct: what the analyser by itself read on the zero and the up-scale gas")
    named = zip(("zero before", "zero after"), zero, strict=True)
    found = [(name, value - at_zero) for name, value in named]
    found += [
        (f"up-scale {when}", value - at_upscale) for when, value in zip(("before", "after"), upscale, strict=True)
    ]
    return largest(criterion, setup, found)


def drift(criterion: Criterion, setup: Setup, read: Read) -> Measured:
    """Largest move of zero and up-scale over the run."""
    zero, upscale = _pairs(read)
    return largest(criterion, setup, [("zero", zero[1] - zero[0]), ("up-scale", upscale[1] - upscale[0])])


def _levels(criterion: Criterion, setup: Setup) -> tuple[float, ...]:
    gases = sorted(gas for gas, _ in _direct(setup))
    if len(gases) < 3:
        raise LackingError("direct: low, mid and high gas")
    whole = whole_of(criterion, setup)
    return tuple(100 * gas / whole for gas in gases)


def level_low(criterion: Criterion, setup: Setup) -> Measured:
    """Lowest gas of the three, zero left out where there are more."""
    levels = _levels(criterion, setup)
    return Measured(levels[1] if len(levels) > 3 else levels[0])


def level_mid(criterion: Criterion, setup: Setup) -> Measured:
    """Gas before the highest."""
    return Measured(_levels(criterion, setup)[-2])


def level_high(criterion: Criterion, setup: Setup) -> Measured:
    """Highest gas."""
    return Measured(_levels(criterion, setup)[-1])


def upscale_level(criterion: Criterion, setup: Setup) -> Measured:
    """Up-scale gas beside the range."""
    if setup.upscale_gas is None:
        raise LackingError("upscale_gas")
    return Measured(100 * setup.upscale_gas / whole_of(criterion, setup))


def gas_uncertainty(_: Criterion, setup: Setup) -> Measured:
    """What the certificate of the gas says."""
    if setup.gas_uncertainty is None:
        raise LackingError("gas_uncertainty_percent")
    return Measured(100 * setup.gas_uncertainty)


def converter(_: Criterion, setup: Setup) -> Measured:
    """Efficiency of the converter."""
    if setup.converter is None:
        raise LackingError("converter: NO2 gas and the NOx read on it")
    return Measured(float(100 * calibration.converter_efficiency(setup.converter[1], setup.converter[0])))


def stratification(criterion: Criterion, setup: Setup) -> Measured:
    """Largest difference of a point from the mean of all points."""
    if len(setup.stratification) < 3:
        raise LackingError("stratification: the mean at three points or more")
    mean = sum(setup.stratification) / len(setup.stratification)
    found = [(f"point {at}", one - mean) for at, one in enumerate(setup.stratification, start=1)]
    return largest(criterion, setup, found, mean)


def line_error(_: Criterion, setup: Setup) -> Measured:
    """Largest error of the gases between zero and the highest, beside the straight line through these two."""
    gases = sorted(_direct(setup))
    if len(gases) < 3:
        raise LackingError("direct: zero, low, mid and high gas")
    zero_read, between, (high, high_read) = gases[0][1], gases[1:-1], gases[-1]
    errors = [(gas, float(calibration.line_error(read, gas, zero_read, high_read, high))) for gas, read in between]
    gas, worst = max(errors, key=lambda one: abs(one[1]))
    return Measured(100 * worst, of=f"gas {gas:g} {setup.unit}")


def span_over_limit(_: Criterion, setup: Setup) -> Measured:
    """Span beside the limit."""
    if not setup.span or not setup.limit:
        raise LackingError("span and limit")
    return Measured(setup.span / setup.limit)


def declared(criterion: Criterion, setup: Setup) -> Measured:
    """What a person entered for it."""
    if criterion.id not in setup.checks:
        raise LackingError(f"checks: {criterion.id}")
    return Measured(setup.checks[criterion.id])


def span_use(criterion: Criterion, setup: Setup, read: Read) -> Measured:
    """Average beside the span, or the highest minute where that is above it."""
    whole = whole_of(criterion, setup)
    top = max((read.average, *read.minutes))
    over = top > whole
    return Measured(100 * (top if over else read.average) / whole, of="highest minute" if over else "average")


def zero_after(criterion: Criterion, setup: Setup, read: Read) -> Measured:
    """Zero after the run."""
    zero, _ = _pairs(read)
    return largest(criterion, setup, [("zero after", zero[1] - setup.zero_gas)])


def upscale_after(criterion: Criterion, setup: Setup, read: Read) -> Measured:
    """Up-scale gas after the run."""
    _, upscale = _pairs(read)
    return largest(criterion, setup, [("up-scale after", upscale[1] - whole_of(criterion, setup))])


def zero_check(criterion: Criterion, setup: Setup, read: Read) -> Measured:
    """Larger of the zero readings."""
    if read.zero is None:
        raise LackingError("zero, before and after")
    return largest(criterion, setup, [("zero before", read.zero[0]), ("zero after", read.zero[1])])


def _upscale_readings(read: Read) -> tuple[float, ...]:
    found = read.upscale_readings or read.upscale
    if not found:
        raise LackingError("upscale_readings: each reading of the up-scale check")
    return found


def upscale_mean(criterion: Criterion, setup: Setup, read: Read) -> Measured:
    """Mean of the up-scale check beside the gas."""
    readings = _upscale_readings(read)
    if setup.upscale_gas is None:
        raise LackingError("upscale_gas")
    return largest(criterion, setup, [("mean", sum(readings) / len(readings) - setup.upscale_gas)])


def upscale_single(criterion: Criterion, setup: Setup, read: Read) -> Measured:
    """Largest distance of a reading of the up-scale check from their mean."""
    readings = _upscale_readings(read)
    mean = sum(readings) / len(readings)
    found = [(f"reading {at}", one - mean) for at, one in enumerate(readings, start=1)]
    return largest(criterion, setup, found, mean)


def minutes_single(criterion: Criterion, setup: Setup, read: Read) -> Measured:
    """Largest distance of a minute of the run from the mean."""
    if len(read.minutes) < 2:
        raise LackingError("minutes")
    mean = sum(read.minutes) / len(read.minutes)
    return largest(criterion, setup, [(f"minute {at}", one - mean) for at, one in enumerate(read.minutes, 1)], mean)


def of_upscale(criterion: Criterion, setup: Setup, read: Read) -> Measured:
    """Average beside the up-scale gas."""
    return Measured(100 * read.average / whole_of(criterion, setup))


def gas_less_stack(_: Criterion, setup: Setup, read: Read) -> Measured:
    """Up-scale gas less what the stack had."""
    if setup.upscale_gas is None:
        raise LackingError("upscale_gas")
    return Measured(setup.upscale_gas - read.average)


def spread(_: Criterion, __: Setup, read: Read) -> Measured:
    """Standard deviation of the minutes over their mean."""
    return _of_minutes(read, calibration.spread)


def trend(_: Criterion, __: Setup, read: Read) -> Measured:
    """Rise over the run by a straight line, over the mean."""
    return _of_minutes(read, calibration.trend)


def _of_minutes(read: Read, formula: Callable[..., object]) -> Measured:
    if len(read.minutes) < 10:
        raise LackingError("minutes: ten or more")
    found = float(np.asarray(formula(np.array(read.minutes))))
    if not math.isfinite(found):
        raise LackingError("minutes whose mean is above zero")
    return Measured(100 * found)


def detection(_: Criterion, setup: Setup, read: Read) -> Measured:
    """Average over the detection limit."""
    if len(setup.zero_readings) < 2:
        raise LackingError("zero_readings")
    limit = float(np.asarray(calibration.detection_limit(np.array(setup.zero_readings))))
    if not limit > 0:
        raise LackingError("zero_readings that differ")
    return Measured((read.average - setup.zero_gas) / limit)


ONCE: dict[str, Once] = {
    "calibration_error": calibration_error,
    "level_low": level_low,
    "level_mid": level_mid,
    "level_high": level_high,
    "upscale_level": upscale_level,
    "gas_uncertainty": gas_uncertainty,
    "converter": converter,
    "strat1": stratification,
    "strat3": stratification,
    "line_error": line_error,
    "span_over_limit": span_over_limit,
    "declared": declared,
}
"""By the name that the table gives: once for a gas of the test."""
PER_RUN: dict[str, PerRun] = {
    "bias": bias,
    "drift": drift,
    "span_use": span_use,
    "zero_after": zero_after,
    "upscale_after": upscale_after,
    "zero_check": zero_check,
    "upscale_mean": upscale_mean,
    "upscale_single": upscale_single,
    "minutes_single": minutes_single,
    "of_upscale": of_upscale,
    "gas_less_stack": gas_less_stack,
    "spread": spread,
    "trend": trend,
    "detection": detection,
}
"""By the name that the table gives: for each run."""
