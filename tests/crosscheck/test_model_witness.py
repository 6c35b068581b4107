"""The model of the cycle as one more witness: each reading speaks once, and what the balances cannot see is checked."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from asfound.crosscheck.findings import find
from asfound.crosscheck.findings_model import by_model_alone, of_model
from asfound.crosscheck.of_case import cross_check_of
from asfound.crosscheck.witness import ModelWitness
from asfound.quantities.findings import Case

from .a2 import visit

TIMED = {"engine/ignition_timing": "19 deg"}
AT = np.array([np.log(94.1), np.log(2.905e5), 326.5, 1.66, -0.3316])
NAMES = ("filling", "efficiency", "exhaust_temperature", "nox_dry")
BY = np.array([
    [0.0, 0.0, 0.0, 0.0, 0.0], [-0.07, 0.12, 0.0, -0.27, -0.4], [95.0, 40.0, 0.0, -135.0, 285.0],
    [-2.5, -0.9, 0.038, -14.9, -7.0],
])  # fmt: skip
"""About as the model has it for the engine of the demo; tests of the model itself are elsewhere."""


def witness(u: tuple[float, ...], **other: float) -> ModelWitness:
    """Return a witness with given doubts (charge, efficiency, exhaust, NOx), correlated as the model's are."""
    found = {
        "filling": 0.85,
        "efficiency": np.log(0.365),
        "exhaust_temperature": 820.0,
        "nox_dry": np.log(1.4e-4),
    } | other
    correlation = np.array([[1, 0.15, 0, 0.05], [0.15, 1, -0.5, 0.7], [0, -0.5, 1, -0.5], [0.05, 0.7, -0.5, 1]])
    doubts = np.array(u)
    return ModelWitness(
        names=NAMES, log=(False, True, False, True),
        knobs=("speed", "manifold_pressure", "charge_temperature", "excess_air_ratio", "timing"),
        knob_log=(True, True, False, False, False), at=AT, values=np.array([found[name] for name in NAMES]),
        by_knob=BY, covariance=correlation * doubts * doubts[:, None],
    )  # fmt: skip


USUAL = (0.04, 0.065, 50.0, 0.45)
SHARP = (0.01, 0.01, 5.0, 0.05)


def with_model(said: ModelWitness | None, changed: dict[str, str] | None = None) -> Case:
    """Return the demo visit with a timing, and a witness for what was found."""
    case = visit(TIMED | (changed or {}), left=False)
    return replace(case, visit={"model_witness": lambda state: said if state == "as_found" else None})


def test_a_reading_that_no_balance_sees_is_checked_by_the_model():
    alone, beside = (cross_check_of(with_model(one)) for one in (None, witness(USUAL)))
    assert "ignition_timing" not in {one.name for one in alone.readings}
    timing = beside.reading("ignition_timing")
    assert np.isfinite(timing.smallest_error)
    assert [one.name for one in by_model_alone(beside)] == ["ignition_timing"]
    assert beside.degrees == alone.degrees + 4  # four balances more: the doubts of the model are known values
    assert len(of_model(beside)) == 4


def test_a_sharper_witness_sees_smaller_errors():
    blunt, sharp = (cross_check_of(with_model(witness(u))) for u in (USUAL, SHARP))
    for name in ("ignition_timing", "manifold_pressure", "exhaust_nox_dry", "engine_power"):
        assert sharp.reading(name).smallest_error < blunt.reading(name).smallest_error


def test_no_reading_confirms_itself():
    """What the others make of a reading does not move when the reading does: not even by way of the model."""
    before = cross_check_of(with_model(witness(USUAL)))
    after = cross_check_of(with_model(witness(USUAL), {"engine/engine_power": "1770 hp"}))
    for one in (before, after):
        assert not one.contradiction
    read, others = (after.reading("engine_power").value - before.reading("engine_power").value,
                    after.reading("engine_power").others - before.reading("engine_power").others)  # fmt: skip
    assert read > 2e4
    assert abs(others) < 0.05 * read  # the rest is that the balances are curved


def test_a_witness_that_knows_nothing_changes_nothing():
    alone = cross_check_of(with_model(None))
    beside = cross_check_of(with_model(witness((0.05, 10.0, 1e4, 10.0), filling=0.90)))
    assert beside.chi_squared == pytest.approx(alone.chi_squared, abs=0.3)
    for name in ("fuel_flow", "exhaust_oxygen_dry"):
        assert beside.reading(name).best == pytest.approx(alone.reading(name).best, rel=5e-3)


def test_a_timing_far_from_what_the_engine_shows_is_noticed_and_the_model_itself_is_among_the_suspects():
    found = cross_check_of(with_model(witness(SHARP), {"engine/ignition_timing": "34 deg"}))
    assert found.contradiction
    names = {one.name for group in found.explanations[0].groups for one in group}
    assert "ignition_timing" in names or any(name.startswith("model_") for name in names)
    said = next(
        one for one in find(with_model(witness(SHARP), {"engine/ignition_timing": "34 deg"})) if one.code == "CC-20"
    )
    assert "cycle model" in said.compared_with
    assert said.severity == "note"


def test_the_finding_tells_what_the_model_alone_checks():
    said = {one.code: one for one in find(with_model(witness(SHARP)))}["CC-20"]
    assert "agrees with the readings within its own doubt" in said.says
    assert "ignition timing (an error below" in said.says
    assert "CC-20" not in {one.code for one in find(with_model(None))}


def test_the_gauge_pressure_of_the_manifold_takes_the_barometer_with_it():
    found = cross_check_of(with_model(witness(USUAL)))
    assert all("barometric_pressure" in one.takes for one in of_model(found))


def test_a_witness_of_errors_that_belong_together_keeps_their_covariance():
    found = cross_check_of(with_model(witness(USUAL)))
    readings = found.assembled.readings
    at = [readings.at(f"model_{name}") for name in NAMES]
    np.testing.assert_allclose(readings.covariance[np.ix_(at, at)], witness(USUAL).covariance)
