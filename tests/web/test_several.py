"""Handing over, taking in and settling on the pages."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect
from starlette.testclient import TestClient

from asfound.records.bundle import bundle_bytes
from asfound.records.conflicts import clashes
from asfound.records.seal import seal
from asfound.records.store import Records
from asfound.web.app import create_app

from .conftest import A2, start
from .test_accessibility import axe_script, violations

OXYGEN = {
    "quantity": "exhaust_oxygen_dry", "place": "stack", "state": "as_left", "time": "2032-07-08T16:00:00-06:00",
    "unit": "%",
}  # fmt: skip


def written_apart(records: Records, folder: Path) -> Records:
    """Let a second laptop read and correct what the first one does too; return the second."""
    other = Records.open(folder, clock=records.clock)
    other.home.change(person="K. Second")
    take(other, bundle_bytes(records))
    visit = records.visit("A2").id
    note = next(one for one in records.entries(visit=visit, kind="note"))
    for laptop, value in ((records, 0.089), (other, 0.092)):
        typed = {"as_typed": f"{100 * value:.1f} %", "value": value, "standard_uncertainty": 0.001}
        laptop.append("reading", {**OXYGEN, **typed}, visit=visit)
        laptop.append("note", {**note.content, "text": f"{note.content['text']} {value}"}, corrects=note.id)
    return other


def take(records: Records, file: bytes) -> None:
    from asfound.records.bundle_in import take_in

    take_in(records, io.BytesIO(file))


@pytest.fixture
def apart(records: Records, tmp_path: Path) -> Records:
    """The demo home after a colleague's bundle was taken in."""
    with written_apart(records, tmp_path / "second") as other:
        take(records, bundle_bytes(other))
    return records


@pytest.fixture
def their_file(records: Records, tmp_path: Path) -> bytes:
    with written_apart(records, tmp_path / "second") as other:
        return bundle_bytes(other, ["A2"])


def test_home_leads_to_both(client: TestClient) -> None:
    page = client.get("/").text
    assert "Hand over to another laptop" in page
    assert 'href="/take-in"' in page


def test_the_whole_home_and_one_engine_go_out(client: TestClient, records: Records) -> None:
    assert "Ashgrebe" in client.get("/hand-over").text
    whole = client.get("/hand-over.zip")
    assert whole.content == bundle_bytes(records)
    engine = records.engine("A2").id
    part = client.get("/hand-over.zip", params={"part": engine})
    assert part.content == bundle_bytes(records, [engine])
    assert "asfound-A2-2032-07-08.zip" in part.headers["content-disposition"]
    assert client.get("/hand-over.zip", params={"part": "nobody"}).status_code == 422


def test_taking_in_says_what_came_and_what_clashes(client: TestClient, their_file: bytes) -> None:
    answer = client.post("/take-in", files={"file": ("a2.zip", their_file)})
    assert answer.status_code == 200
    assert "2 entries were new" in answer.text
    assert "2 things are to be settled" in answer.text


def test_a_locked_file_goes_out_and_comes_in_with_its_passphrase(client: TestClient, records: Records) -> None:
    word = "lantern gravel seven herons"
    answer = client.post("/hand-over", data={"part": records.engine("A2").id, "passphrase": word})
    assert answer.status_code == 200
    assert "asfound-A2-2032-07-08.locked" in answer.headers["content-disposition"]
    assert b"Ashgrebe" not in answer.content
    sent = {"file": ("a2.locked", answer.content)}
    assert client.post("/take-in", files=sent, data={"passphrase": word}).status_code == 200
    refused = client.post("/take-in", files=sent, data={"passphrase": "another one altogether"})
    assert refused.status_code == 422
    assert "does not open this bundle" in refused.text
    short = client.post("/hand-over", data={"passphrase": "short"})
    assert short.status_code == 422
    assert "four or five words" in short.text
    assert client.post("/hand-over", data={"passphrase": ""}).content == bundle_bytes(records)


def test_a_hostile_file_is_refused_beside_the_field(client: TestClient, records: Records) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("../../etc/passwd", "x")
    before = bundle_bytes(records)
    answer = client.post("/take-in", files={"file": ("a2.zip", out.getvalue())})
    assert answer.status_code == 422
    assert "has no place in a bundle" in answer.text
    assert bundle_bytes(records) == before


def test_a_file_of_another_kind_is_named_as_such(client: TestClient) -> None:
    answer = client.post("/take-in", files={"file": ("a2.zip", b"something else")})
    assert answer.status_code == 422
    assert "none of the files that are handed over" in answer.text


def test_both_sides_stand_beside_each_other_and_both_are_kept(client: TestClient, apart: Records) -> None:
    page = client.get("/settle").text
    for said in ("8.9", "9.2", "K. Second", "Keep both as two readings", "in 100 by chance", "this laptop"):
        assert said in page
    assert "Settle it" in client.get(A2).text
    reading = next(one for one in clashes(apart) if one.kind == "readings")
    sent = {"about": reading.about.id, "choose": "all", "why": "two probes"}
    assert client.post("/settle", data=sent).status_code == 303
    assert [one.kind for one in clashes(apart)] == ["corrections"]
    kept = apart.fold(reading.engine, reading.visit).current
    assert {side.entry.id for side in reading.sides} <= {one.id for one in kept}
    assert kept[-1].content["why"] == "two probes"


def test_one_side_is_chosen_and_the_other_is_set_aside(client: TestClient, apart: Records) -> None:
    for one in clashes(apart):
        client.post("/settle", data={"about": one.about.id, "choose": one.sides[1].entry.id})
    assert clashes(apart) == ()
    assert "Nothing was written apart" in client.get("/settle").text


def test_a_sealed_visit_is_settled_by_an_addendum(client: TestClient, records: Records, tmp_path: Path) -> None:
    with written_apart(records, tmp_path / "second") as other:
        seal(records, "A2", who="first")
        take(records, bundle_bytes(other))
    (late,) = clashes(records)
    assert (late.kind, late.sealed, len(late.sides)) == ("after_seal", True, 2)
    assert "closed on one laptop while another went on" in client.get("/settle").text
    client.post("/settle", data={"about": late.about.id, "choose": "all", "why": "came with the bundle"})
    assert clashes(records) == ()
    assert "came with the bundle" in records.entries(kind="addendum")[-1].content["says"]


def test_hostile_words_of_another_laptop_are_shown_as_words(
    client: TestClient, records: Records, tmp_path: Path
) -> None:
    with written_apart(records, tmp_path / "second") as other:
        visit = records.visit("A2").id
        for laptop, text in ((records, "a"), (other, "<script>alert(1)</script>")):
            typed = {"as_typed": text, "value": float(len(text)), "place": "site", "quantity": "barometric_pressure"}
            laptop.append("reading", {**OXYGEN, **typed, "note": text}, visit=visit, who=text)
        take(records, bundle_bytes(other))
    page = client.get("/settle").text
    assert "<script>alert" not in page
    assert "&lt;script&gt;" in page


@pytest.fixture
def apart_address(apart: Records) -> Iterator[str]:
    server, thread, where = start(create_app(apart, who="tester"))
    yield where
    server.should_exit = True
    thread.join(10)


@pytest.mark.browser
def test_pages_have_no_violation_and_work_without_script(browser: Browser, apart_address: str) -> None:
    script = axe_script()
    for width, light in ((1440, "day"), (390, "night"), (820, "sun")):
        context = browser.new_context(
            base_url=apart_address, viewport={"width": width, "height": 1000}, bypass_csp=True
        )
        context.add_cookies([{"name": "light", "value": light, "url": apart_address}])
        page = context.new_page()
        found = [one for path in ("/settle", "/hand-over", "/take-in") for one in violations(page, path, script)]
        assert found == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        context.close()
    context = browser.new_context(base_url=apart_address, java_script_enabled=False)
    page = context.new_page()
    page.goto("/settle")
    page.get_by_role("button", name="Keep both as two readings").first.click()
    page.get_by_role("button", name="Keep both", exact=False).first.click()
    expect(page.get_by_text("Nothing was written apart")).to_be_visible()
    context.close()
