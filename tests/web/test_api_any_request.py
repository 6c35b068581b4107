"""The HTTP door against requests made from its own description: never a fault of the program.

Every operation, positive and negative data, in two homes: the demo (each path led to a visit that is open, so that the
bodies reach the code behind it) and an empty one, where there is neither engine nor visit.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis.checks import not_a_server_error
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import status_code_conformance

from asfound.quantities.worksheets import load
from asfound.records.store import Records
from asfound.web.app import create_app

AT = {"engine": "A2", "day": "2032-07-08"}
MODES = list(GenerationMode)
WORKSHEETS = sorted(load())
EVERY = 19
"""Worksheets share their handlers; one in so many is asked at random, the rest as `test_api.py` does."""


def few(number: int) -> settings:
    return settings(
        max_examples=number,
        deadline=None,
        suppress_health_check=list(HealthCheck),
        database=None,
        derandomize=True,
        phases=(Phase.explicit, Phase.generate),
    )


def _operations(schema: schemathesis.BaseSchema) -> list[schemathesis.APIOperation]:
    chosen = {f"/api/worksheets/{name}" for name in WORKSHEETS[::EVERY]}
    found = [one.ok() for one in schema.exclude(path="/api/prove").get_all_operations()]
    return [
        one
        for one in found
        if not one.path.startswith("/api/worksheets/") or one.path.removesuffix("/result") in chosen
    ]


def _ask_all(records: Records, examples: int, *, led: bool) -> tuple[int, list[str]]:
    """Return how many requests were sent, and what went wrong, one line for an operation."""
    app = create_app(records, who="tester", hosts=("127.0.0.1", "testserver"))  # the name that schemathesis uses
    schema = schemathesis.openapi.from_asgi("/api/openapi.json", app)
    asked, wrong = 0, []
    for one in _operations(schema):
        for mode in MODES:

            @few(examples)
            @given(case=one.as_strategy(generation_mode=mode))
            def ask(case: schemathesis.Case) -> None:
                nonlocal asked
                if led:
                    case.path_parameters.update({key: AT[key] for key in AT if key in case.path_parameters})
                asked += 1
                case.call_and_validate(checks=(not_a_server_error, status_code_conformance))

            try:
                ask()
            except Unsatisfiable:  # nothing about it can be wrong
                continue
            except Exception as fault:
                wrong.append(f"{one.method} {one.path} ({mode.value}): {_flat(fault)}")
    return asked, wrong


def _flat(fault: BaseException) -> str:
    inner = getattr(fault, "exceptions", ())
    return " | ".join(map(_flat, inner)) if inner else f"{type(fault).__name__}: {str(fault)[:600]}"


@pytest.mark.slow
def test_no_request_about_a_visit_breaks_the_door(home: Path) -> None:
    with Records.open(home) as opened:
        asked, wrong = _ask_all(opened, 8, led=True)
    assert wrong == []
    assert asked > 300


@pytest.mark.slow
def test_no_request_breaks_the_door_of_an_empty_home(tmp_path: Path) -> None:
    with Records.open(tmp_path / "empty") as opened:
        asked, wrong = _ask_all(opened, 4, led=False)
    assert wrong == []
    assert asked > 150


@pytest.mark.slow
def test_proof_answers_any_room(reader) -> None:
    for room in ("", "exhaust", "nowhere", "../x", "\x00", "é" * 5_000):
        assert reader.get("/api/prove", params={"room": room} if room else {"room": "fuel"}).status_code in (200, 404)
