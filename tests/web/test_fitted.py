"""What is fitted: the form of a place, what it keeps, and that belief follows."""

from __future__ import annotations

import re

from starlette.testclient import TestClient

from asfound.records.store import Records

from .conftest import A2

FITTED = f"{A2}/fitted"
PART = {"x-asfound-part": "1"}


def looks(records: Records, slot: str) -> list[dict[str, object]]:
    visit = records.visit("A2").id
    void = {one.corrects for one in records.entries(visit=visit) if one.corrects}
    return [
        dict(one.content)
        for one in records.entries(visit=visit, kind="look")
        if one.content["slot"] == slot and one.id not in void
    ]


def test_tags_lead_to_their_forms(reader: TestClient) -> None:
    page = reader.get(FITTED).text
    tags = re.findall(r'<a href="([^"]+)" class="tag[^"]*"', page) or re.findall(
        r'<a class="tag[^"]*" href="([^"]+)"', page
    )
    assert len(tags) >= 2 * 15  # drawn across and up
    assert reader.get(tags[0].partition("#")[0]).status_code == 200


def test_a_look_is_kept_and_moves_the_belief(client: TestClient, records: Records) -> None:
    before = client.get(f"{FITTED}?place=service_port").text
    assert "What is thought to sit here" in before
    answer = client.post(
        FITTED,
        data={"slot": "service_port", "answer": "seen", "how": "at_part", "s:shape": "round_five_pins"},
        headers=PART,
    )
    if answer.status_code == 422:  # the demo catalogue names its characters; take what the form offers
        offered = re.search(r'name="(s:[^"]+)" id="[^"]+" value="([^"]+)"', before)
        assert offered
        answer = client.post(
            FITTED,
            data={"slot": "service_port", "answer": "seen", "how": "at_part", offered.group(1): offered.group(2)},
            headers=PART,
        )
    assert answer.status_code == 200
    assert "What this look did" in answer.text
    assert len(looks(records, "service_port")) == 1


def test_three_answers_several_states_label_and_note(client: TestClient, records: Records) -> None:
    client.post(FITTED, data={"slot": "mixture_controller", "answer": "not_judged", "how": "from_3m"})
    newest = looks(records, "mixture_controller")[-1]
    assert newest["answer"] == "not_judged"
    page = client.get(f"{FITTED}?place=speed_controller").text
    offered = re.findall(r'name="(s:plugs)" id="[^"]+" value="([^"]+)"', page)
    two = [value for _, value in offered][:2]
    data = {
        "slot": "speed_controller",
        "answer": "seen",
        "how": "in_hand",
        "s:plugs": two,
        "l:label": "M.2?..6",
        "note": "seam dusty",
    }
    assert client.post(FITTED, data=data).headers["location"] == f"{FITTED}?place=speed_controller#panel"
    kept = looks(records, "speed_controller")
    plugs = next(one for one in reversed(kept) if one["character"] == "plugs")
    assert plugs["states"] == two
    assert any(one["label"] == "M.2?..6" and one["character"] == "label" for one in kept)


def test_unticking_takes_back_and_saying_the_same_writes_nothing(client: TestClient, records: Records) -> None:
    data = {"slot": "service_port", "answer": "not_there", "how": "at_part"}
    client.post(FITTED, data=data, headers=PART)
    count = len(records.entries())
    client.post(FITTED, data=data, headers=PART)
    assert len(records.entries()) == count
    client.post(FITTED, data=data | {"answer": ""}, headers=PART)
    assert records.entries()[-1].kind == "withdrawn"
    assert looks(records, "service_port") == []


def test_looking_once_more_keeps_the_first_look(client: TestClient, records: Records) -> None:
    client.post(FITTED, data={"slot": "service_port", "answer": "not_judged", "how": "from_3m"})
    page = client.get(f"{FITTED}?place=service_port&again").text
    since = re.search(r'name="since" value="([^"]+)"', page)
    assert since
    client.post(FITTED, data={"slot": "service_port", "answer": "not_there", "how": "at_part", "since": since.group(1)})
    assert [one["answer"] for one in looks(records, "service_port")] == ["not_judged", "not_there"]


def test_what_the_catalogue_does_not_know_is_refused_and_nothing_kept(client: TestClient, records: Records) -> None:
    count = len(records.entries())
    answer = client.post(
        FITTED, data={"slot": "speed_controller", "answer": "seen", "s:plugs": "square_ones", "how": "at_part"}
    )
    assert answer.status_code == 422
    assert "square_ones" in answer.text
    assert len(records.entries()) == count
    assert client.get(f"{FITTED}?place=warp_drive").status_code == 404


def test_an_engine_outside_the_catalogue_gets_generic_places_and_a_draft(reader: TestClient) -> None:
    base = "/engines/D2/2032-06-21/fitted"
    page = reader.get(base).text
    assert "Not in the catalogue" in page
    draft = reader.get(f"{base}/draft.yaml")
    assert draft.status_code == 200
    assert "slots:" in draft.text


def test_closed_visit_shows_its_form_without_taking(reader: TestClient) -> None:
    page = reader.get("/engines/A1/2032-05-03/fitted?place=ignition_unit").text
    assert "fieldset disabled" in page
    assert "Keep this look" not in page
