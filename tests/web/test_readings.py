"""A field is kept at once, complaints stand beside it with a way out, undo adds a line."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest
from starlette.testclient import TestClient

from asfound.records.store import Records

from .conftest import A2

EXHAUST = f"{A2}/exhaust"
CO = "as_left/stack/exhaust_co_dry"
PART = {"x-asfound-part": "1"}


def field(html: str, key: str) -> str:
    """Return the tag of a field."""
    found = re.search(rf'<input[^>]*id="v:{re.escape(key)}"[^>]*>', html)
    assert found, key
    return found.group(0)


def test_with_script_a_field_comes_back_as_the_whole_page(client: TestClient, records: Records) -> None:
    answer = client.post(EXHAUST, data={f"v:{CO}": "395", "u:stack/exhaust_co_dry": "ppm"}, headers=PART)
    assert answer.status_code == 200
    assert answer.text == client.get(EXHAUST).text
    kept = records.entries(visit=records.visit("A2").id)[-1]
    assert kept.content["as_typed"] == "395 ppm"
    assert kept.content["value"] == pytest.approx(395e-6)
    assert kept.who == "R. Imber"


def test_without_script_the_form_posts_redirects_and_gets(client: TestClient, records: Records) -> None:
    page = client.get(EXHAUST).text
    everything = dict(re.findall(r'<input type="text"[^>]*name="(v:[^"]+)" value="([^"]*)"', page))
    everything |= {f"v:{CO}": "395", "u:stack/exhaust_co_dry": "ppm"}
    before = len(records.entries())
    answer = client.post(EXHAUST, data=everything)
    assert (answer.status_code, answer.headers["location"]) == (303, EXHAUST)
    assert len(records.entries()) == before + 1  # what was not changed is not written again
    assert 'value="395"' in field(client.get(EXHAUST).text, CO)


def test_results_follow(client: TestClient) -> None:
    assert "waits for CO, dry" in client.get(EXHAUST).text
    answer = client.post(EXHAUST, data={f"v:{CO}": "395", "u:stack/exhaust_co_dry": "ppm"}, headers=PART)
    assert "waits for CO, dry" not in answer.text


def test_what_cannot_be_comes_back_beside_its_field(client: TestClient, records: Records) -> None:
    before = len(records.entries())
    answer = client.post(EXHAUST, data={"v:as_left/stack/exhaust_oxygen_dry": "9.3 bar"})
    assert answer.status_code == 422
    assert len(records.entries()) == before
    tag = field(answer.text, "as_left/stack/exhaust_oxygen_dry")
    assert 'value="9.3 bar"' in tag
    assert 'aria-invalid="true"' in tag
    described = re.search(r'aria-describedby="([^"]+)"', tag)
    assert described
    assert f'id="{described.group(1)}"' in answer.text


def test_one_wrong_field_does_not_lose_the_others(client: TestClient, records: Records) -> None:
    data = {f"v:{CO}": "395 ppm", "v:as_left/stack/exhaust_oxygen_dry": "nine"}
    answer = client.post(EXHAUST, data=data)
    assert answer.status_code == 422
    assert 'value="395"' in field(answer.text, CO)
    assert 'value="nine"' in field(answer.text, "as_left/stack/exhaust_oxygen_dry")
    assert records.entries()[-1].content["quantity"] == "exhaust_co_dry"


def test_an_ambiguous_number_is_asked_with_a_button_for_each_meaning(client: TestClient, records: Records) -> None:
    answer = client.post(EXHAUST, data={f"v:{CO}": "1.395", "u:stack/exhaust_co_dry": "ppm"})
    assert answer.status_code == 422
    buttons = re.findall(rf'name="put:{CO}" value="([^"]+)"', answer.text)
    assert len(buttons) == 2
    chosen = client.post(EXHAUST, data={f"v:{CO}": "1.395", f"put:{CO}": buttons[0], "u:stack/exhaust_co_dry": "ppm"})
    assert chosen.status_code == 303
    assert records.entries()[-1].content["value"] in (pytest.approx(1.395e-6), pytest.approx(1395e-6))


def test_what_is_only_odd_is_kept_and_said(client: TestClient, records: Records) -> None:
    answer = client.post(EXHAUST, data={f"v:{CO}": "39500", "u:stack/exhaust_co_dry": "ppm"}, headers=PART)
    assert answer.status_code == 200
    assert "Look again" in answer.text
    assert records.entries()[-1].content["as_typed"] == "39500 ppm"


def test_changing_puts_right_and_emptying_takes_back(client: TestClient, records: Records) -> None:
    visit = records.visit("A2").id
    client.post(EXHAUST, data={f"v:{CO}": "395 ppm"}, headers=PART)
    first = records.entries(visit=visit)[-1]
    client.post(EXHAUST, data={f"v:{CO}": "396 ppm"}, headers=PART)
    second = records.entries(visit=visit)[-1]
    assert second.corrects == first.id
    assert second.content["time"] == first.content["time"]
    client.post(EXHAUST, data={f"v:{CO}": ""}, headers=PART)
    gone = records.entries(visit=visit)[-1]
    assert (gone.kind, gone.corrects) == ("withdrawn", second.id)
    assert [one.id for one in records.entries(visit=visit)][-3:] == [first.id, second.id, gone.id]  # no line is removed


def test_undo_adds_a_line_and_undoing_it_brings_back(client: TestClient, records: Records) -> None:
    visit = records.visit("A2").id
    client.post(EXHAUST, data={f"v:{CO}": "395 ppm"}, headers=PART)
    kept = records.entries(visit=visit)[-1]
    assert "395" in client.get(f"{A2}/log").text
    client.post(f"{A2}/undo", data={"entry": kept.id})
    assert 'value=""' in field(client.get(EXHAUST).text, CO)
    client.post(f"{A2}/undo", data={"entry": records.entries(visit=visit)[-1].id})
    assert 'value="395"' in field(client.get(EXHAUST).text, CO)
    assert len(records.entries(visit=visit)) >= 3


def test_an_entry_that_waited_keeps_the_time_at_which_it_was_typed(client: TestClient, records: Records) -> None:
    waited = str(timedelta(minutes=40).total_seconds() * 1000)
    client.post(EXHAUST, data={f"v:{CO}": "395 ppm"}, headers=PART | {"x-asfound-waited": waited})
    when = datetime.fromisoformat(records.entries()[-1].content["time"])
    assert timedelta(minutes=39) < records.clock.now() - when < timedelta(minutes=41)


def test_the_same_entry_sent_twice_is_kept_once(client: TestClient, records: Records) -> None:
    for _ in range(2):
        client.post(EXHAUST, data={f"v:{CO}": "395", "u:stack/exhaust_co_dry": "ppm"}, headers=PART)
    kept = [one for one in records.entries() if one.kind == "reading" and one.content["as_typed"] == "395 ppm"]
    assert len(kept) == 1


def test_instrument_in_the_hand(client: TestClient, records: Records) -> None:
    analyser = next(one for one in records.instruments().values() if one.content["serial"] == "PA-093")
    client.post(EXHAUST, data={f"v:{CO}": "395 ppm", "instrument": analyser.id}, headers=PART)
    assert records.entries()[-1].content["instrument"] == analyser.id
    page = client.get(f"{A2}/reading/{CO}")
    assert "PA-093" in page.text


def test_a_reading_of_ones_own_and_a_set_point(client: TestClient, records: Records) -> None:
    data = {"quantity": "exhaust_no2_dry", "place": "stack", "value": "12 ppm", "state": "as_left"}
    answer = client.post(f"{EXHAUST}/add", data=data)
    assert answer.status_code == 303
    assert records.entries()[-1].content["place"] == "stack"
    wrong = client.post(f"{EXHAUST}/add", data=data | {"value": "12 bar"})
    assert wrong.status_code == 422
    assert 'value="12 bar"' in wrong.text
    assert client.post(f"{A2}/other/setting", data={"name": "set_points", "as_typed": "A2-0708.set"}).status_code == 303
    assert records.entries()[-1].kind == "setting"


def test_column_switch_works_as_a_plain_form(client: TestClient) -> None:
    answer = client.post(f"{A2}/column", data={"column": "as_left", "back": EXHAUST})
    assert answer.headers["location"] == EXHAUST
    assert 'value="as_left" aria-pressed="true"' in client.get(EXHAUST).text


def test_events_and_their_complaints(client: TestClient, records: Records) -> None:
    assert (
        client.post(f"{A2}/events", data={"event": "stopped", "says": "for the plugs", "time": "11:40"}).status_code
        == 303
    )
    assert records.entries()[-1].content["engine_state"] == "stopped"
    assert "The engine is stopped" in client.get(A2).text
    wrong = client.post(f"{A2}/events", data={"event": "stopped", "time": "25:00"})
    assert wrong.status_code == 422
    assert "no time of day" in wrong.text
