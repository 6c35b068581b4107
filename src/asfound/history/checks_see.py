"""Published examples of slopes, control charts and change points, recomputed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from asfound.history.change_segments import fit_segments
from asfound.history.changes import change_points
from asfound.history.charts import cusum, cusum_arl_chain, ewma_arl
from asfound.history.pettitt import pettitt
from asfound.history.regression import robust_fit
from asfound.history.theil_sen import theil_sen
from asfound.sources.prove import Check
from asfound.sources.tables import load_yaml

Row = tuple[str, float, float, float]
"""What, value, published, tolerance."""


def cases() -> dict[str, dict[str, Any]]:
    """Return the published cases by kind."""
    return {case["kind"]: case for case in load_yaml("asfound.history", "data/published_see.yaml")}


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    answers = {
        "cusum": _cusum, "line": _line, "theil_sen": _theil_sen, "one_change": _one_change, "pettitt": _pettitt,
        "run_length": _run_length,
    }  # fmt: skip
    for kind, case in cases().items():
        for what, value, published, tolerance in answers[kind](case):
            yield Check(
                check=what, room="history", value=value, published=published, tolerance=tolerance,
                source=case["source"], clause=case.get("clause", ""), note=case.get("note", ""),
            )  # fmt: skip


def _cusum(case: Mapping[str, Any]) -> Iterator[Row]:
    found = cusum(np.array(case["x"]), case["target"], case["k"], case["h"])
    for name, sums in (("high", found.high), ("low", found.low)):
        for at, printed in enumerate(case[name]):
            yield f"{name} sum of group {at + 1}", float(sums[at]), printed, 0.0051
    yield "first group beyond h", float((found.first or 0) + 1), case["first"], 0.0


def _line(case: Mapping[str, Any]) -> Iterator[Row]:
    x = np.array(case["x"], dtype=float)
    fit = robust_fit(
        np.column_stack([np.ones(x.size), x]), np.array(case["y"]), ("intercept", "slope"),
        method="least_squares", correlated=False,
    )  # fmt: skip
    for name in ("intercept", "slope"):
        one = fit.coefficient(name)
        yield f"certified {name}", one.value, case[name], 1e-12 if name == "slope" else 1e-11
        yield f"certified standard deviation of the {name}", one.error, case[f"sd_{name}"], 1e-9
    yield "certified residual standard deviation", fit.scale, case["residual_sd"], 1e-9
    y = np.array(case["y"])
    left = y - x * fit.coefficient("slope").value - fit.coefficient("intercept").value
    yield "certified R squared", 1.0 - float(left @ left) / float(((y - y.mean()) ** 2).sum()), case["r_squared"], 1e-12


def _theil_sen(case: Mapping[str, Any]) -> Iterator[Row]:
    found = theil_sen(np.array(case["x"], dtype=float), np.array(case["y"], dtype=float), case["level"])
    yield "median slope", found.slope, case["slope"], 1e-9
    yield "lower end at 93 %", found.low, case["low"], 0.005
    yield "upper end at 93 %", found.high, case["high"], 0.005


def _one_change(case: Mapping[str, Any]) -> Iterator[Row]:
    volume = np.array(case["volume"], dtype=float)
    found = change_points(volume)
    at = found.at[0] if len(found.at) == 1 else 0
    yield "years before the one change", float(at), case["before"], 0.0
    yield "mean flow before", float(volume[:at].mean()) if at else float("nan"), case["mean_before"], 0.005
    yield "mean flow after", float(volume[at:].mean()), case["mean_after"], 0.0005
    for what, places, key in (
        ("without a change", [], "squares"),
        ("with the one change", found.at, "squares_changed"),
    ):
        left = volume - fit_segments(volume, places, "level")[0]
        yield f"sum of squares {what}", float(left @ left), case[key], 0.005


def _pettitt(case: Mapping[str, Any]) -> Iterator[Row]:
    found = pettitt(np.array(cases()["one_change"]["volume"], dtype=float))
    yield "K of the change test by ranks", found.k, case["k"], 0.0
    yield "samples before the change by ranks", float(found.before), case["before"], 0.0
    yield "probability of as large a K", found.probability, case["probability"], 5e-11


def _run_length(case: Mapping[str, Any]) -> Iterator[Row]:
    for h, shift, published, tolerance in case["cusum"]:
        value = 1.0 / (1.0 / cusum_arl_chain(shift, 0.5, h) + 1.0 / cusum_arl_chain(-shift, 0.5, h))
        yield f"run length of a CUSUM, h {h}, shift {shift}", value, published, tolerance
    for weight, width, shift, published, tolerance in case["ewma"]:
        yield f"run length of an EWMA, shift {shift}", ewma_arl(shift, weight, width), published, tolerance
