"""The page of the cylinders: what it shows of whole visits, what it keeps, and how it looks in a real browser."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect
from starlette.testclient import TestClient

from asfound.records.store import Records
from asfound.web.app import create_app

from .conftest import A2, start
from .test_accessibility import axe_script

A3 = "/engines/A3/2032-03-15"
LATER = "/engines/A3/2032-06-20"
N1, N2 = "/engines/N1/2032-02-12", "/engines/N2/2032-02-12"
DEGREES = (1092, 876, 1098, 993, 1089, 1095, 1087, 1101, 1092, 1094)
PORTS = dict(zip(("L1", "L2", "L3", "L4", "L5", "R1", "R2", "R3", "R4", "R5"), DEGREES, strict=True))
"""Of a visit of A3 between the two of the demo world: L2 does not fire. [degF]"""


def later_visit(records: Records) -> str:
    """Begin a visit of A3 after that of March at which cylinder L2 has gone cold, and its ignition asks for more."""
    engine = next(one for one in records.engines() if one.tag == "A3")
    began = {"purpose": "trip", "began": "2032-06-20T09:00:00-06:00"}
    visit = records.append("visit_opened", began, engine=engine.id).id

    def read(quantity: str, place: str, value: float, u: float, state: str = "as_found") -> None:
        content = {
            "quantity": quantity, "place": place, "state": state, "time": "2032-06-20T11:00:00-06:00",
            "as_typed": f"{value:g}", "value": value, "standard_uncertainty": u,
        }  # fmt: skip
        records.append("reading", content, visit=visit)

    for name, degrees in PORTS.items():
        read("cylinder_exhaust_temperature", f"cylinder_{name}", (degrees - 32) / 1.8 + 273.15, 2.0)
        read("ignition_demand", f"cylinder_{name}", 15.2e3 if name == "L2" else 11e3, 300.0)
    read("exhaust_oxygen_dry", "after_catalyst", 0.015, 0.001)
    read("catalyst_inlet_temperature", "engine", 822.0, 1.0)
    read("catalyst_outlet_temperature", "engine", 889.0, 1.0)
    for i in range(1, 7):
        read("bearing_temperature", f"bearing_{i}", 351.0 + (i % 3) + (12.0 if i == 4 else 0.0), 0.5)
    return visit


@pytest.fixture
def later(client: TestClient, records: Records) -> TestClient:
    later_visit(records)
    return client


@pytest.fixture
def later_address(home: Path) -> Iterator[str]:
    with Records.open(home) as opened:
        later_visit(opened)
        server, thread, where = start(create_app(opened, who="tester"))
        yield where
        server.should_exit = True
        thread.join(10)


def plain(html: str) -> str:
    """Return what a reader sees, blanks in one."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


# ---------------------------------------------------------------------- what is shown


def test_every_demo_visit_has_its_page(reader: TestClient) -> None:
    for base in (A2, A3, N1, N2, "/engines/D1/2032-06-20", "/engines/A1/2032-05-03"):
        assert reader.get(f"{base}/cylinders").status_code == 200


def test_both_numbers_stand_where_two_ways_of_counting_are_in_use(reader: TestClient) -> None:
    html = reader.get(f"{N2}/cylinders").text
    assert "the builder counts from the flywheel end, the site from the free end" in html
    assert "Cylinder 3 (the site&#39;s 7)" in html
    assert "the operator&#39;s 1 is the builder&#39;s 9" in html  # CY-01 as a notice of its own
    assert "type K thermocouple on a type N input" in html  # CY-02


def test_levels_are_said_in_words_for_readers_of_the_screen(reader: TestClient) -> None:
    html = reader.get(f"{N2}/cylinders").text
    assert "Cylinder 3, the site&#x27;s 7, +102 K from the median, stands apart: hot." in html
    assert "None stands apart." in reader.get(f"{A2}/cylinders").text


def test_a_port_leads_to_its_field_and_fields_go_as_cylinders_are_counted(reader: TestClient) -> None:
    html = reader.get(f"{A2}/cylinders").text
    assert 'href="#v:as_found/cylinder_4/cylinder_exhaust_temperature"' in html
    fields = re.findall(r'id="v:as_found/(cylinder_\d+)/cylinder_exhaust_temperature"', html)
    assert fields == [f"cylinder_{i}" for i in range(1, 10)]


def test_what_was_not_taken_says_what_would_fill_it(reader: TestClient) -> None:
    html = plain(reader.get(f"{N1}/cylinders").text)
    assert "Not taken" in html
    assert "Compression and firing pressure : compression pressure of every cylinder" in html
    assert "Sensor or cylinder?" not in html


def test_a_closed_visit_shows_its_witnesses_and_asks_nothing(reader: TestClient) -> None:
    html = plain(reader.get(f"{A3}/cylinders").text)
    assert "The sensor." in html
    assert "How it came As found says sensor slowly over days, told (shift: T. Okoye)" in html
    assert "What would have told most" in html  # the visit is closed: nothing is asked any more
    assert "Could not tell" not in html


def test_verdict_of_a_later_visit_with_its_last_one_beside_it(later: TestClient) -> None:
    html = plain(later.get(f"{LATER}/cylinders").text)
    assert "The cylinder." in html
    assert "At the last visit it did not stand apart" in html
    assert "stands cold, as it usually does" in html  # L4, as in March
    assert "where that cylinder usually stands: the visit of 15 March 2032" in html
    assert "Main bearing" in html


def test_a_port_judged_false_is_dashed_and_says_by_whom(later: TestClient) -> None:
    key = "as_found/cylinder_L2/cylinder_exhaust_temperature"
    headers = {"origin": "http://127.0.0.1"}
    given = {"false": key, "why": "wire broken", "back": f"{LATER}/cylinders"}
    assert later.post(f"{LATER}/judged", data=given, headers=headers).status_code == 303
    html = later.get(f"{LATER}/cylinders").text
    assert re.search(r"L2 judged false by [^,<]+\.", html)
    assert re.search(r"Cylinder L2: judged false by [^,<]+\.", html)
    assert "Next for cylinder L2" not in html


# ---------------------------------------------------------------------- what is kept


def answer(client: TestClient, **fields: str) -> int:
    given = {"cylinder": "L2", "witness": "knock", "answer": "quiet", "state_of_visit": "as_found", "how": "read"}
    headers = {"origin": "http://127.0.0.1"}
    return client.post(f"{LATER}/cylinders/look", data={**given, **fields}, headers=headers).status_code


def chance(client: TestClient) -> str:
    found = re.search(r"The cylinder\. <span class=\"quiet\">([^<]*)", client.get(f"{LATER}/cylinders").text)
    return found[1] if found else ""


def test_an_answer_is_kept_and_moves_the_verdict(later: TestClient, records: Records) -> None:
    before = chance(later)
    assert answer(later) == 303
    html = plain(later.get(f"{LATER}/cylinders").text)
    assert re.search(r"Knock level of this cylinder says cylinder quiet", html)
    assert chance(later) != before
    assert "Answer again : Knock level" in html


def test_a_second_answer_puts_the_first_right_and_one_can_be_taken_back(later: TestClient, records: Records) -> None:
    visit = next(one for one in records.visits(next(e for e in records.engines() if e.tag == "A3").id)
                 if one.date == "2032-06-20")  # fmt: skip

    def standing() -> list[str]:
        current = records.fold(visit.engine, visit.id).current
        return [
            str(one.content["state"] or one.content["could_not_tell"]) for one in current if one.kind == "cylinder_look"
        ]

    assert answer(later, answer="usual") == 303
    assert answer(later, answer="could_not_tell") == 303
    assert standing() == ["True"]
    assert "looked, could not tell" in plain(later.get(f"{LATER}/cylinders").text)
    assert answer(later, answer="take_back") == 303
    assert standing() == []


@pytest.mark.parametrize(
    "wrong",
    [{"witness": "oracle"}, {"answer": "purple"}, {"how": "measured"}, {"state_of_visit": "never"}, {"cylinder": ""}],
)
def test_what_no_witness_says_is_refused(later: TestClient, records: Records, wrong: dict[str, str]) -> None:
    before = len(records.entries())
    assert 400 <= answer(later, **wrong) < 500
    assert len(records.entries()) == before


def test_hostile_words_stay_words(later: TestClient) -> None:
    assert answer(later, how="hearsay", by="<script>alert(1)</script>") == 303
    assert "<script>alert(1)" not in later.get(f"{LATER}/cylinders").text


# ---------------------------------------------------------------------- in a real browser


@pytest.mark.browser
@pytest.mark.parametrize("light", ["day", "night", "sun"])
@pytest.mark.parametrize("width", [1440, 820, 390])
def test_no_violation_and_nothing_is_cut(browser: Browser, later_address: str, light: str, width: int) -> None:
    context = browser.new_context(base_url=later_address, viewport={"width": width, "height": 1000}, bypass_csp=True)  # type: ignore[arg-type]
    context.add_cookies([{"name": "light", "value": light, "url": later_address}])
    page, script, found = context.new_page(), axe_script(), []
    for base in (LATER, N2):
        page.goto(f"{base}/cylinders")
        page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        page.evaluate(script)
        answer = page.evaluate("axe.run({resultTypes: ['violations']})")
        found += [f"{base}: {one['id']}: {one['nodes'][0]['html'][:160]}" for one in answer["violations"]]
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    context.close()
    assert found == []


@pytest.mark.browser
def test_without_script_the_next_witness_is_answered(browser: Browser, later_address: str) -> None:
    context = browser.new_context(base_url=later_address, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{LATER}/cylinders")
    block = page.locator(".next")
    expect(block).to_have_count(1)
    asked = block.locator("h2").inner_text()
    block.get_by_role("button").first.click()
    expect(page.locator(".next h2")).not_to_have_text(asked)
    context.close()


@pytest.mark.browser
def test_with_script_the_drawing_follows_a_reading(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address)
    page = context.new_page()
    page.goto(f"{A2}/cylinders")
    page.locator(".d-wide a.port").first.click()
    box = page.locator('[id="v:as_found/cylinder_1/cylinder_exhaust_temperature"]')
    expect(box).to_be_focused()
    box.fill("850 °F")
    box.press("Tab")
    expect(page.locator(".d-wide svg").first).to_have_attribute("aria-label", re.compile("Cylinder 1 .* stands apart"))
    context.close()


def test_the_page_says_first_which_cylinder_stands_apart(reader: TestClient) -> None:
    sound = reader.get(f"{A2}/cylinders").text
    assert re.search(r"No cylinder stands apart\.\s*<span class=\"quiet\">9 of 9 ports read; the farthest is", sound)
    odd = reader.get("/engines/A3/2032-06-28/cylinders").text
    assert "Cylinder L4 stands apart as found, none as left." in odd
    assert "The entry of L4 shows cylinder L2: look at L2." in odd
    assert "No port was judged." in reader.get("/engines/D2/2032-06-21/cylinders").text
