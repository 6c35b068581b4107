"""Published values and kept cases of test runs, recomputed: formulas alone, and whole tests through the judgement."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Iterator
from typing import Any

from asfound.exhaust import calibration
from asfound.exhaust.test_run import EmissionTest
from asfound.exhaust.test_run_judge import Assessment, judge
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

PER_CENT = 100


def _assessed(gas: str, setup: dict[str, Any], read: dict[str, Any]) -> Assessment:
    """Return a test of one gas and one run, judged."""
    run = {"start": "2032-05-02T09:00+00:00", "end": "2032-05-02T10:00+00:00", "gases": {gas: read}}
    return judge(EmissionTest.from_dict({"gases": {gas: setup}, "runs": [run]}))


def _verdict(found: Assessment, criterion: str) -> float:
    """Return 1 where the criterion holds, 0 where it fails, nan where it is not measured."""
    holds = [one.holds for one in found.judged if one.criterion.id == criterion and one.holds is not None]
    return float(all(holds)) if holds else float("nan")


def _after_run(
    span: float, zero_direct: float, up_direct: float, zero_i: float, zero_f: float, up_i: float, up_f: float
) -> Assessment:
    """Return a run by Method 7E between two readings of zero and up-scale gas."""
    setup = {
        "method": "7e",
        "span": span,
        "upscale_gas": up_direct,
        "direct": [[0, zero_direct], [up_direct, up_direct]],
    }
    return _assessed("nox", setup, {"average": up_direct, "zero": [zero_i, zero_f], "upscale": [up_i, up_f]})


def _stands(*given: float) -> float:
    return float(_after_run(*given).valid(1, "nox"))


def _recalibrate(*given: float) -> float:
    return float(_after_run(*given).calibrate_after(1))


def _appendix_a(gas: str, certified: float, zero: float, *readings: float) -> Assessment:
    """Return the checks of a cell by Appendix A to subpart ZZZZ."""
    setup = {"method": "zzzz_a", "upscale_gas": certified}
    read = {"average": certified, "zero": [zero, zero], "upscale_readings": list(readings)}
    return _assessed(gas, setup, read)


def _cell(part: str) -> Callable[..., float]:
    return lambda gas, *given: _verdict(_appendix_a(str(gas), *given), f"a.{part}_{gas}")


def _cell_passes(gas: str, *given: float) -> float:
    return float(_appendix_a(gas, *given).valid(1, gas))


def _method_25a(
    span: float, zero: float, high_gas: float, high: float, low_gas: float, low: float, mid_gas: float, mid: float,
    zero_after: float, mid_after: float,
) -> float:  # fmt: skip
    setup = {
        "method": "25a", "span": span, "upscale_gas": mid_gas,
        "direct": [[0, zero], [low_gas, low], [mid_gas, mid], [high_gas, high]],
    }  # fmt: skip
    read = {"average": mid_gas, "zero": [zero, zero_after], "upscale": [mid, mid_after]}
    return float(_assessed("thc_propane", setup, read).valid(1, "thc_propane"))


WAYS: dict[str, Callable[..., float]] = {
    "bias_corrected": lambda c, z, u, g: float(calibration.bias_corrected(c, z, u, g)),
    "bias_corrected_low": lambda c, z, u, g, low: float(calibration.bias_corrected(c, z, u, g, low)),
    "bias": lambda s, d, span: PER_CENT * float(calibration.system_bias(s, d, span)),
    "drift": lambda b, a, span: PER_CENT * float(calibration.drift(b, a, span)),
    "drift_1065": lambda *g: float(calibration.drift_corrected(*g)),
    "line_error": lambda *g: PER_CENT * float(calibration.line_error(*g)),
    "drift_25a": lambda b, a, span: PER_CENT * float(calibration.share_of(a - b, span)),
    "mean": lambda *g: statistics.fmean(g),
    "worst": max,
    "converter": lambda r, c: PER_CENT * float(calibration.converter_efficiency(r, c)),
    "bias_ok": lambda *g: _verdict(_after_run(*g), "7e.bias"),
    "drift_ok": lambda *g: _verdict(_after_run(*g), "7e.drift"),
    "stands": _stands,
    "recalibrate": _recalibrate,
    "cell_zero": _cell("zero"),
    "cell_mean": _cell("up"),
    "cell_single": _cell("single"),
    "cell_passes": _cell_passes,
    "passes_25a": _method_25a,
}


def checks() -> Iterator[Check]:
    """Yield each published value and kept case with what the room's functions give now."""
    for row in load_csv("asfound.exhaust", "data/published_test_runs.csv"):
        given = [one if one in ("co", "o2") else float(one) for one in row["inputs"].split("|")]
        yield Check.of_row("exhaust", WAYS[row["of"]](*given), row)
