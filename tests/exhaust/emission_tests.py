"""An invented emission test as a plain dict, and ways to change one thing in it."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

GASES: dict[str, Any] = {
    "nox": {
        "method": "7e", "span": 200, "upscale_gas": 100, "direct": [[0, 0.1], [100, 100.4], [200, 199.3]],
        "gas_uncertainty_percent": 1.5, "converter": [50, 47.1],
    },
    "co": {"method": "10", "span": 500, "upscale_gas": 250, "direct": [[0, 0.5], [250, 251], [500, 499]]},
    "o2": {"method": "3a", "span": 20.9, "upscale_gas": 10, "direct": [[0, 0.02], [10, 10.03], [20.9, 20.88]]},
}  # fmt: skip


def run(number: int, *, nox: float = 82.0, co: float = 198.0, o2: float = 9.1, load: float = 98.0) -> dict[str, Any]:
    """Return one run of an hour, its system readings near its gases."""
    hour = 7 + 2 * number
    return {
        "number": number, "start": f"2032-05-02T{hour:02d}:00+00:00", "end": f"2032-05-02T{hour + 1:02d}:00+00:00",
        "load_percent": load, "readings": {"engine_power": "1420 kW", "fuel_heat_input": "3880 kW"},
        "gases": {
            "nox": {"average": nox, "zero": [0.4, 0.7], "upscale": [99.0, 98.2]},
            "co": {"average": co, "zero": [1.0, 2.5], "upscale": [246.0, 244.0]},
            "o2": {"average": o2, "zero": [0.05, 0.08], "upscale": [9.98, 9.95]},
        },
    }  # fmt: skip


def three_runs(**changes: Any) -> dict[str, Any]:
    """Return a test of three runs under subpart JJJJ that keeps all that is entered."""
    given: dict[str, Any] = {
        "rule": "jjjj", "by": "test crew", "stack_diameter_mm": 280, "sample_points": 3, "engine_hours": 41_230,
        "gases": deepcopy(GASES), "runs": [run(1), run(2, nox=83.0), run(3, nox=84.0)],
    }  # fmt: skip
    return given | changes
