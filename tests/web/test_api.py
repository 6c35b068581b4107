"""The HTTP door: described by the registers, computing what the pages compute, refusing in words."""

from __future__ import annotations

from pathlib import Path

import pytest
from openapi_spec_validator import validate
from starlette.testclient import TestClient

from asfound.quantities.worksheets import load
from asfound.records.store import Records
from asfound.web.app import create_app

VISIT = "/api/visits/A2/2032-07-08"


def test_description_is_valid_and_has_every_worksheet(reader: TestClient) -> None:
    document = reader.get("/api/openapi.json").json()
    assert document["openapi"].startswith("3.1")
    validate(document)
    for name in load():
        assert f"/api/worksheets/{name}/result" in document["paths"]


def test_a_worksheet_by_address_and_by_body_agrees_with_its_page(reader: TestClient) -> None:
    """40 CFR 60.4213(d)(2), Equation 3: 120 ppm at 8.5 % oxygen is 57.1 ppm at 15 % (120 x 5.9 / 12.4)."""
    inputs = {"exhaust_nox_dry": "120 ppm", "exhaust_oxygen_dry": "8,5 %", "permit_reference_oxygen": "15 %"}
    path = "/api/worksheets/nox_at_reference_oxygen/result"
    asked = reader.get(path, params=inputs).json()
    posted = reader.post(path, json={"inputs": inputs}).json()
    assert asked["results"][0]["value"] == pytest.approx(120e-6 * 5.9 / 12.4)
    assert asked == posted
    assert asked["results"][0]["source"]
    assert "57.1" in reader.get("/worksheets/nox_at_reference_oxygen", params=inputs).text


@pytest.mark.parametrize(
    ("inputs", "status", "says"),
    [
        ({"exhaust_nox_dry": "120 ppm"}, 422, "Missing"),
        ({"exhaust_nox_dry": "120 bar", "exhaust_oxygen_dry": "8 %"}, 422, "bar"),
        ({"exhaust_nox_dry": "120 ppm", "exhaust_oxygen_dry": "30 %"}, 422, "20.9"),
        ({"exhaust_nox_dri": "1"}, 422, "is no input"),
    ],
)
def test_what_cannot_be_computed_is_said(reader: TestClient, inputs: dict[str, str], status: int, says: str) -> None:
    answer = reader.post("/api/worksheets/nox_at_reference_oxygen/result", json={"inputs": inputs})
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    assert says in answer.json()["detail"]


def test_unknown_names_and_broken_bodies(reader: TestClient) -> None:
    assert "Nearest" in reader.get("/api/worksheets/nox_at_reference_oxigen").json()["detail"]
    assert reader.get("/api/nowhere").status_code == 404
    assert reader.post("/api/identify", content=b"{").status_code == 400
    wrong = reader.post("/api/identify", json={"engine": {"tag": "X", "wheels": 3}, "looks": [{"slot": "?"}]}).json()
    assert "wheels" in wrong["detail"]
    assert "looks.0.slot" in wrong["detail"]


def test_identify_on_facts_and_looks(reader: TestClient) -> None:
    answer = reader.post(
        "/api/identify", json={"engine": {"tag": "X", "family": "HM9", "driven": "compressor"}, "looks": []}
    )
    assert answer.status_code == 200
    assert sum(one["probability"] for one in answer.json()["builds"]) == pytest.approx(1, abs=1e-6)


def test_registers_and_proof(reader: TestClient) -> None:
    assert reader.get("/api/quantities/exhaust_oxygen_dry").json()["si_unit"] == "mol/mol"
    assert len(reader.get("/api/sources").json()) > 10
    checks = reader.get("/api/prove", params={"room": "exhaust"}).json()
    assert checks["missed"] == 0
    assert checks["checks"]


def test_readings_and_looks_are_kept_all_or_none(client: TestClient, records: Records) -> None:
    body = {"readings": [{"quantity": "exhaust_co_dry", "place": "stack", "state": "as_left", "value": "395 ppm"}]}
    kept = client.post(f"{VISIT}/readings", json=body)
    assert kept.status_code == 201
    assert any(one["key"] == "as_left/stack/exhaust_co_dry" for one in kept.json()["readings"])
    count = len(records.entries())
    body["readings"].append({"quantity": "exhaust_o2", "place": "stack", "value": "9 %"})
    assert client.post(f"{VISIT}/readings", json=body).status_code == 404
    assert len(records.entries()) == count
    look = {"looks": [{"slot": "service_port", "answer": "not_there", "how": "at_part"}]}
    answer = client.post(f"{VISIT}/looks", json=look)
    assert answer.status_code == 201
    assert sum(answer.json()["belief"].values()) == pytest.approx(1, abs=1e-6)


def test_visit_record_and_identification(reader: TestClient) -> None:
    view = reader.get(VISIT).json()
    assert view["name"] == "A2/2032-07-08"
    assert view["results"]
    assert reader.get(f"{VISIT}/record").json()["entries"]
    assert reader.get(f"{VISIT}/identification").json()["places"]
    assert reader.get("/api/visits/A9/2032-07-08").status_code == 404


@pytest.mark.slow
def test_nothing_made_from_the_description_breaks_the_door(home: Path) -> None:
    """Requests that fit the description, and some that do not: no fault of the program, always a documented answer."""
    import schemathesis
    from hypothesis import HealthCheck, given, settings
    from schemathesis.checks import not_a_server_error
    from schemathesis.specs.openapi.checks import status_code_conformance

    few = settings(
        max_examples=5, deadline=None, suppress_health_check=list(HealthCheck), database=None, derandomize=True
    )
    with Records.open(home) as opened:
        app = create_app(opened, who="tester", hosts=("127.0.0.1", "testserver"))  # the name that schemathesis uses
        schema = schemathesis.openapi.from_asgi("/api/openapi.json", app)
        for one in schema.exclude(path="/api/prove").get_all_operations():  # proof takes seconds and nothing but a room

            @few
            @given(case=one.ok().as_strategy())
            def ask(case: schemathesis.Case) -> None:
                case.call_and_validate(checks=(not_a_server_error, status_code_conformance))

            ask()


def test_half_a_sign_is_refused_and_not_a_fault(client: TestClient) -> None:
    for raw in (b'{"engine": {"tag": "\\ud800"}}', b'{"engine": {"tag": "\xed\xa0\x80"}}', b'{"\\ud800": 1}'):
        answer = client.post("/api/identify", content=raw)
        assert answer.status_code in (400, 422)
        assert answer.headers["content-type"] == "application/problem+json"
