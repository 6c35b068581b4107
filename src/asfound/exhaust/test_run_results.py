"""What a run comes to: concentrations corrected as their method says, with their uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

from asfound.exhaust import calibration
from asfound.exhaust.test_run import Read, Run, Setup, methods

DRIFT_CORRECTED_FROM = 0.02
"""EN 14792, 15058, 14789: drift of the check gas up to which nothing is corrected (from memory)."""
UNKNOWN_GAS = 0.02
"""Expanded uncertainty of a certified gas without a certificate at hand: what Method 7E allows (from memory). [1]"""
UNKNOWN_LINE = 0.02
"""Error between the gases where no three-point check was entered: what Method 7E allows, of span (from memory). [1]"""
UNKNOWN_READING = 0.05
"""Half-width for a reading without zero and gas readings, of the reading; engineering judgement. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """A gas of a run, in the unit of the gas."""

    gas: str
    run: int
    as_read: float
    value: float
    standard_uncertainty: float
    shared: float
    """Part of the standard uncertainty that all runs of the test have in common: the certified gas."""
    unit: str
    how: str
    """Corrected by what, in words."""

    @property
    def shared_fraction(self) -> float:
        """Correlation of two runs by the error that they share. [1]"""
        whole = self.standard_uncertainty**2
        return min(1.0, self.shared**2 / whole) if whole > 0 else 0.0


def corrected(setup: Setup, read: Read, run: int) -> Corrected:
    """Return what a run comes to for one gas, as the method of the gas corrects it."""
    way = methods()[setup.method]["correction"]
    pairs = read.zero is not None and read.upscale is not None and setup.upscale_gas is not None
    if way == "drift" and pairs and _drift(setup, read) <= DRIFT_CORRECTED_FROM:
        return _as_read(setup, read, run, "as read: the drift is within 2 % of the check gas")
    if way != "none" and pairs:
        found = _by_the_system(setup, read, run)
        if math.isfinite(found.value):
            return found
    asked = way != "none" and not pairs
    return _as_read(setup, read, run, "as read: no zero and up-scale readings" if asked else "as read")


def results(gases: dict[str, Setup], run: Run) -> dict[str, Corrected]:
    """Return what a run comes to for each gas; NOx also by its converter, where NO was read beside it."""
    found = {gas: corrected(gases[gas], read, run.number) for gas, read in run.gases.items()}
    nox, no, setup = found.get("nox"), found.get("no"), gases.get("nox")
    if nox is not None and no is not None and setup is not None and setup.converter is not None:
        efficiency = float(calibration.converter_efficiency(setup.converter[1], setup.converter[0]))
        value = float(calibration.converter_corrected(nox.value, no.value, efficiency))
        if math.isfinite(value):
            found["nox"] = Corrected(
                gas="nox", run=run.number, as_read=nox.as_read, value=value, unit=nox.unit, shared=nox.shared,
                standard_uncertainty=nox.standard_uncertainty, how=f"{nox.how}; converter {100 * efficiency:.1f} %",
            )  # fmt: skip
    return found


def line_error(setup: Setup) -> float:
    """Return how far the analyser may be off between its gases. [unit of the gas]"""
    if setup.direct:
        return max(abs(read - gas) for gas, read in setup.direct)
    return UNKNOWN_LINE * (setup.span if setup.span is not None else setup.upscale_gas or 0.0)


def _gas(setup: Setup) -> float:
    """Return the standard uncertainty of the certified up-scale gas. [unit of the gas]"""
    share = UNKNOWN_GAS if setup.gas_uncertainty is None else setup.gas_uncertainty
    return share / 2 * (setup.upscale_gas or 0.0)


def _drift(setup: Setup, read: Read) -> float:
    """Return the larger drift of zero and check gas as a share of the check gas. [1]"""
    assert read.zero is not None
    assert read.upscale is not None
    moved = max(abs(after - before) for before, after in (read.zero, read.upscale))
    return float(calibration.share_of(moved, setup.upscale_gas or 0.0))


def _by_the_system(setup: Setup, read: Read, run: int) -> Corrected:
    """Return the run corrected by the system's readings of zero and up-scale gas."""
    assert read.zero is not None
    assert read.upscale is not None
    assert setup.upscale_gas is not None
    zero, upscale = sum(read.zero) / 2, sum(read.upscale) / 2
    value = calibration.bias_corrected(read.average, zero, upscale, setup.upscale_gas, setup.zero_gas)
    whole, shared = calibration.corrected_uncertainty(
        read.average, zero, upscale, setup.upscale_gas, gas=_gas(setup), zero_gas=setup.zero_gas,
        zero_drift=read.zero[1] - read.zero[0], upscale_drift=read.upscale[1] - read.upscale[0],
        linearity=line_error(setup),
    )  # fmt: skip
    return Corrected(
        gas=setup.gas, run=run, as_read=read.average, value=float(value), standard_uncertainty=float(whole),
        shared=float(shared), unit=setup.unit, how="corrected by zero and up-scale readings before and after",
    )  # fmt: skip


def _as_read(setup: Setup, read: Read, run: int, how: str) -> Corrected:
    """Return the run as it was read, with what the checks say of the analyser."""
    share = read.average / setup.upscale_gas if setup.upscale_gas else 1.0
    gas = abs(share) * _gas(setup) if setup.upscale_gas else UNKNOWN_GAS / 2 * abs(read.average)
    off = 0.0
    checked = read.upscale or read.upscale_readings
    if checked and setup.upscale_gas is not None:
        off = abs(share) * max(abs(one - setup.upscale_gas) for one in checked)
    if read.zero is not None:
        off += abs(1 - share) * max(abs(one - setup.zero_gas) for one in read.zero)
    if read.zero is None and not checked:
        off = UNKNOWN_READING * abs(read.average)
    line = line_error(setup) if setup.direct else 0.0
    whole = math.sqrt(gas**2 + off**2 / 3 + line**2 / 3)
    return Corrected(
        gas=setup.gas, run=run, as_read=read.average, value=read.average, standard_uncertainty=whole, shared=gas,
        unit=setup.unit, how=how,
    )  # fmt: skip
