"""The page of all engines: what asks for a hand first stands in words; what was put right on the visit does not."""

from __future__ import annotations

import re
from html import unescape

from starlette.testclient import TestClient

from asfound.records.seal import seal, verify
from asfound.records.store import Records

from .conftest import A2

TAG = re.compile(r'class="tagname">([^<]+)')


def rows_of(html: str) -> dict[str, str]:
    """Return the row of each engine, by its tag."""
    rows = html.split('<li class="eng">')[1:]
    return {TAG.findall(one)[0]: one.split("</li>")[0] for one in rows}


def test_the_first_finding_of_each_engine_stands_in_words_and_leads_to_its_page(reader: TestClient) -> None:
    rows = rows_of(reader.get("/").text)
    assert set(rows) == {"A1", "A2", "A3", "N1", "N2", "D1", "D2"}
    first = re.search(r'class="firstof"><a href="([^"]+)">.*?<span>([^<]+)</span>', rows["A2"], re.DOTALL)
    assert first
    assert unescape(first.group(2)) == "The plate says works 20388; works 20461 is stamped in the block"
    assert first.group(2)[:40] in reader.get(first.group(1)).text


def test_what_was_taken_again_as_left_is_settled_and_what_is_only_noted_asks_for_no_hand(reader: TestClient) -> None:
    """A2's NOx was too close to its permit as found, and is far inside as left."""
    row = rows_of(reader.get("/").text)["A2"]
    assert "This visit" not in row
    assert "Noted" not in row
    page = reader.get(f"{A2}/findings").text
    open_, settled = page.split('id="settled"')
    assert "too close to the permit" not in open_
    assert "too close to the permit" in settled.split("</section>")[0]
    assert "too close to the permit" not in reader.get(A2).text.split('data-part="aside"')[1].split("</aside>")[0]


def test_a_button_pressed_twice_opens_one_visit(client: TestClient) -> None:
    first = client.post("/engines/N1/visits", data={"purpose": "hunting"}, follow_redirects=False)
    second = client.post("/engines/N1/visits", data={"purpose": "hunting"}, follow_redirects=False)
    assert first.headers["location"] == second.headers["location"]
    client.post(f"{first.headers['location']}/notes", data={"text": "Here."})
    assert (
        client.post("/engines/A1/visits", data={}, follow_redirects=False)
        .headers["location"]
        .startswith("/engines/A1/")
    )


def test_a_point_of_a_closed_visit_is_said_done_and_leaves_the_list_of_engines(
    client: TestClient, records: Records
) -> None:
    """It waits on the ruler until somebody says it done, on the engine's page or on a later visit."""
    visit = records.visit("A2")
    content = {"says": "Wash the catalyst", "severity": "visit", "due": "2032-07-20"}
    point = records.append("open_point", content, visit=visit.id)
    seal(records, visit.id, who="tester", statement="Closed.")
    assert "Wash the catalyst" in rows_of(client.get("/").text)["A2"]
    assert "Wash the catalyst" in client.get("/engines/A2").text.split('id="points"')[1]
    done = client.post("/engines/A2/point_done", data={"entry": point.id, "done": "yes", "note": "washed"})
    assert done.headers["location"] == "/engines/A2#points"
    assert "Wash the catalyst" not in rows_of(client.get("/").text)["A2"]
    page = client.get("/engines/A2").text.split('id="points"')[1]
    assert "done 8 July" in page
    assert "R. Imber: washed" in page
    assert "R. Imber: washed" in client.get(f"{A2}/findings").text
    assert verify(records, visit.id).holds
    (said,) = records.entries(kind="point_done")
    client.post(f"{A2}/findings/points/done", data={"entry": said.id})
    assert "Wash the catalyst" in rows_of(client.get("/").text)["A2"]
    later = client.post("/engines/A2/visits", data={"purpose": "wash"}).headers["location"]
    assert "Wash the catalyst" in client.get(f"{later}/findings").text.split('id="left"')[1]
    client.post(f"{later}/findings/points/done", data={"entry": point.id, "done": "yes"})
    assert records.entries(kind="point_done")[-1].content["visit"] == records.visit("A2").id
    assert client.post("/engines/A1/point_done", data={"entry": point.id}).status_code == 404
