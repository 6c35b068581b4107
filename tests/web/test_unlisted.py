"""The whole visit to an engine that no catalogue knows, on the pages."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from asfound.fitout.schema import read_catalogue
from asfound.records.home import Home
from asfound.records.store import Records
from asfound.web.app import create_app

GIF = bytes.fromhex("47494638396101000100800000000000ffffff21f90401000000002c00000000010001000002024401003b")


@pytest.fixture
def unlisted(tmp_path: Path) -> Iterator[tuple[TestClient, Records, str]]:
    """Return a client, the records, and the page of what is fitted on an in-line 8 that no catalogue knows."""
    with Records.open(Home(tmp_path / "new").folder) as records:
        app = create_app(records, who="tester", debug=True)
        with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as client:
            content = {"tag": "X9", "layout": {"form": "inline", "cylinders": 8}, "turbochargers": {"count": 1}}
            records.append("engine", content, who="tester")
            answer = client.post("/engines/X9/visits", data={"purpose": "what is it"})
            yield client, records, f"{answer.headers['location']}/fitted"


def _api(records: Records) -> str:
    return f"/api/visits/{records.visit('X9').name}"


def test_every_generic_place_has_a_tag_and_a_form(unlisted) -> None:
    client, _, fitted = unlisted
    page = client.get(fitted)
    assert page.status_code == 200
    for slot in ("coil", "starter", "nameplate", "traces"):
        assert f"place={slot}#panel" in page.text
        form = client.get(f"{fitted}?place={slot}").text
        assert "What did you find?" in form
    assert "How it is mounted, in your own words" in client.get(f"{fitted}?place=coil").text
    assert "Nothing is weighed" in page.text
    assert "nothing is computed" in page.text


def test_ticks_own_words_label_and_note_are_kept(unlisted) -> None:
    client, records, fitted = unlisted
    answer = client.post(
        fitted,
        data={
            "slot": "coil", "answer": "seen", "how": "at_part", "note": "black stalks", "s:count": "8",
            "s:mounting": "on_part", "w:mounting": "taped", "l:label": "CB 77?",
        },
    )  # fmt: skip
    assert answer.status_code == 303, answer.text
    looks = {one.content["character"]: one.content for one in records.entries(kind="look")}
    assert looks["count"]["states"] == ["8"]
    assert looks["mounting"]["states"] == ["on_part", "taped"]
    assert looks["label"]["label"] == "CB 77?"
    form = client.get(f"{fitted}?place=coil").text
    assert 'value="taped"' in form
    assert 'id="s-mounting-on_part" value="on_part" checked' in form
    page = client.get(fitted).text
    assert "8 of them" in page
    assert client.post(fitted, data={"slot": "coil", "answer": "", "how": "at_part"}).status_code == 303


def test_what_is_no_count_is_refused(unlisted) -> None:
    client, records, fitted = unlisted
    answer = client.post(fitted, data={"slot": "coil", "answer": "seen", "how": "at_part", "s:count": "many"})
    assert answer.status_code == 422
    assert "0 to 99" in answer.text
    assert not records.entries(kind="look")


def test_photo_draft_report_and_closing(unlisted) -> None:
    client, records, fitted = unlisted
    base = fitted.removesuffix("/fitted")
    client.post(fitted, data={"slot": "speed_controller", "answer": "seen", "how": "read", "l:label": "QX 12?"})
    sent = client.post(f"{base}/photos", data={"place": "speed_controller", "step": "fitted"},
                       files={"photo": ("x.gif", GIF, "image/gif")})  # fmt: skip
    assert sent.status_code in (200, 303), sent.text
    drafted = client.get(f"{fitted}/draft.yaml")
    assert drafted.status_code == 200
    assert "speed_controller" in read_catalogue([("draft.yaml", drafted.text)]).slots
    for page in (base, f"{base}/report", f"{base}/findings", f"{base}/log", "/", "/engines/X9", "/find?q=coil"):
        assert client.get(page).status_code == 200, page
    pdf = client.get(f"{base}/report.pdf")
    assert pdf.status_code == 200
    assert pdf.content.startswith(b"%PDF")
    assert client.get(f"{_api(records)}/identification").json()["fit_z"] is None
    assert len(records.entries(kind="photo")) == 1
    closed = client.post(f"{base}/report/close", data={"statement": "Described as far as it could be seen."})
    assert closed.status_code in (200, 303), closed.text
    assert records.visit("X9").sealed


def test_looks_through_the_http_door(unlisted) -> None:
    client, records, _ = unlisted
    look = {"slot": "coil", "character": "count", "states": ["8"], "how": "at_part", "answer": "seen"}
    answer = client.post(f"{_api(records)}/looks", json={"looks": [look]})
    assert answer.status_code == 201, answer.text
    look["states"] = ["many"]
    assert client.post(f"{_api(records)}/looks", json={"looks": [look]}).status_code == 422


def test_a_known_family_with_unknown_control(client: TestClient, records: Records) -> None:
    day = records.visit("D2").name.rsplit("/", 1)[1]
    fitted = f"/engines/D2/{day}/fitted"
    page = client.get(f"{fitted}?place=engine_controller").text
    assert "places that most engines have" in page
    assert "in your own words" in page
    assert "place=starter#panel" in page
    assert "What did you find?" in client.get(f"{fitted}?place=starter").text
