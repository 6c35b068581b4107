"""The page of the cross-check: who lies as an answer of full size, both states, what cannot be told, no script."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from asfound.records.store import Records
from asfound.records.visit import view

from .conftest import A2

PAGE = f"{A2}/crosscheck"
API = "/api/visits/A2/2032-07-08/crosscheck"


def put(records: Records, key: str, value: float, typed: str) -> None:
    """Correct a reading of the visit to another value, in SI."""
    seen = view(records, "A2/2032-07-08")
    kept = seen.readings[key]
    content = dict(kept.entry.content) | {"value": value, "as_typed": typed}
    records.append("reading", content, visit=seen.id, who="tester", corrects=kept.entry.id)


def words_of(html: str) -> str:
    """Return the text of a page's main part."""
    main = html.split("<main", 1)[1].split("</main>", 1)[0]
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", main))


def test_nothing_contradicts_is_an_answer_of_full_size_with_what_it_does_not_say(reader: TestClient) -> None:
    page = reader.get(PAGE)
    assert page.status_code == 200
    assert re.search(r'class="read2">Nothing contradicts', page.text)
    said = words_of(page.text)
    assert "It is no proof" in said
    assert "would not be noticed" in said
    assert "Nothing checks" in said
    assert "Assumed, not read" in said
    assert "without" not in page.text.split('id="balances"')[0].split('class="jumps"')[1].split("</nav>")[0]


def test_the_finding_counts_what_is_unchecked_as_the_page_does(reader: TestClient) -> None:
    counted = re.compile(r"\d+ only against large errors(?:,| and) \d+ in effect not at all")
    page = counted.search(words_of(reader.get(PAGE).text))
    finding = counted.search(words_of(reader.get(PAGE.replace("crosscheck", "findings")).text))
    assert page
    assert finding
    assert re.findall(r"\d+", page[0]) == re.findall(r"\d+", finding[0])


def test_every_reading_stands_on_the_page_with_its_value_and_the_smallest_error(reader: TestClient) -> None:
    data = reader.get(API).json()
    said = words_of(reader.get(PAGE).text)
    for one in data["readings"]:
        assert one["title"].replace("'", "&#39;") in said
    for one in data["balances"]:
        assert one["title"].replace("'", "&#39;") in said
        assert one["equation"].replace("'", "&#39;") in said


def test_the_switch_and_the_address_choose_the_state(client: TestClient) -> None:
    assert "readings as found" in words_of(client.get(PAGE).text)
    client.cookies.set("column", "as_left")
    left = client.get(PAGE).text
    assert "readings as left" in words_of(left)
    assert 'class="disc"' in left
    assert "readings as found" in words_of(client.get(f"{PAGE}?state=as_found").text)
    assert client.get(f"{PAGE}?state=yesterday").status_code == 422
    assert client.get(f"{API}?state=yesterday").status_code == 422


def test_a_closed_visit_has_links_for_both_states_and_no_next_thing(reader: TestClient) -> None:
    page = reader.get("/engines/A3/2032-03-15/crosscheck").text
    assert "crosscheck?state=as_left" in page
    assert 'class="next"' not in page
    nothing = words_of(reader.get("/engines/A3/2032-03-15/crosscheck?state=as_left").text)
    assert "Nothing can be checked as left." in nothing
    assert "not the same as agreement" in nothing


@pytest.fixture
def lying(records: Records, client: TestClient) -> str:
    """Return the page with the analyser's oxygen and the power misread."""
    put(records, "as_found/stack/exhaust_oxygen_dry", 0.104, "10.4 %")
    put(records, "as_found/engine/engine_power", 1.03e6, "1,030 kW")
    return client.get(PAGE).text


def test_two_that_lie_are_named_struck_and_marked_and_stay_on_the_page(lying: str) -> None:
    said = words_of(lying)
    assert re.search(r'class="read2">[^<]*(Engine power|[Dd]ry oxygen)[^<]*and', lying)
    assert "Runner-up" in said
    assert lying.count('class="clashring"') >= 2
    assert 'class="clashbox"' in lying
    assert 'class="lr clash"' in lying
    assert "10.40" in said, "a reading judged false never vanishes"
    spine = lying.split('class="spine"')[1].split("</nav>")[0]
    assert "does not agree" in spine


def test_results_stand_with_and_without_it(lying: str) -> None:
    both = lying.split('id="without"')[1].split("</section>")[0]
    assert "NOx" in both
    assert "With all readings" in both
    assert "permit" in both
    assert "nothing is taken out" in both


def test_what_cannot_be_told_apart_is_said_and_the_best_measurement_is_the_next_thing(
    records: Records, client: TestClient
) -> None:
    put(records, "as_found/engine/fuel_flow", 0.1266, "407 Mscfd")
    page = client.get(PAGE).text
    said = words_of(page)
    assert re.search(r'class="read2">[^<]*cannot', page)
    assert "in 100" in said
    assert 'class="lr clash"' not in page, "none is called the liar"
    assert "The chance of naming the right one would rise" in page.split('class="next"')[1].split("</section>")[0]


def test_the_page_works_without_script_and_writes_nothing(records: Records, client: TestClient) -> None:
    before = len(records.entries())
    page = client.get(PAGE).text
    assert len(records.entries()) == before
    assert "<form" not in page.split("<main")[1].split('id="method"')[0]
    for anchor in re.findall(r'href="#([\w-]+)"', page):
        assert f'id="{anchor}"' in page


def test_think_is_on_the_dock_and_in_the_spine(reader: TestClient) -> None:
    page = reader.get(PAGE).text
    dock = page.split('class="dock"')[1].split("</nav>")[0]
    assert [one for one in ("Visit", "Take", "Record", "Think", "Hand over") if f"<span>{one}</span>" in dock] == [
        "Visit", "Take", "Record", "Think", "Hand over",
    ]  # fmt: skip
    spine = page.split('class="spine"')[1].split("</nav>")[0]
    assert spine.index("Take") < spine.index("Think") < spine.index("Hand over")


def test_programs_get_the_same_in_si(reader: TestClient) -> None:
    data = reader.get(f"{API}?state=as_found").json()
    assert data["checked"]
    assert data["verdict"] == "nobody"
    assert data["disagreement"] < data["usual_below"]
    power = next(one for one in data["readings"] if one["name"] == "engine_power")
    assert power["key"] == "as_found/engine/engine_power"
    assert power["value"] == pytest.approx(1735 * 745.7, rel=1e-3)
    empty = reader.get("/api/visits/A3/2032-03-15/crosscheck?state=as_left").json()
    assert not empty["checked"]
