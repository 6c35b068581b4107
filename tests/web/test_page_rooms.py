"""Pages of fuel, load and exhaust: methods beside each other, the last visit, drawings; all without script."""

from __future__ import annotations

import re
from html import unescape

import pytest
from starlette.testclient import TestClient

from asfound.records.store import Records
from asfound.records.visit import view

from .conftest import A2

ROOMS = ("fuel", "load", "exhaust")


def page_of(client: TestClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    return unescape(answer.text)


def part(page: str, name: str) -> str:
    """Return one part of a page that the script would put in place."""
    found = re.search(rf'<div data-part="{name}"[^>]*>(.*?)(?=<div data-part=|<p class="peek"|<footer)', page, re.S)
    assert found, name
    return found[1]


def put(client: TestClient, state: str, place: str, quantity: str, value: str, unit: str = "") -> None:
    said = {f"v:{state}/{place}/{quantity}": value}
    if unit:
        said[f"u:{place}/{quantity}"] = unit
    answer = client.post(f"{A2}/exhaust", data=said)
    assert answer.status_code == 303


@pytest.mark.parametrize("step", ROOMS)
def test_every_picture_says_what_it_shows_and_comes_in_three_widths(reader: TestClient, step: str) -> None:
    page = page_of(reader, f"{A2}/{step}")
    for block in re.findall(r'<div class="pic3[^"]*">(.*?)</svg></div></div>', page, re.S):
        widths = [float(box) for box in re.findall(r'viewBox="0 0 ([\d.]+) ', block)]
        assert len(widths) == 3
        assert widths[2] == 350
        assert block.count('role="img"') == 3
        assert 'aria-label=""' not in block


def test_the_exhaust_page_says_which_limit_is_used_and_what_to_read_better(reader: TestClient) -> None:
    page = page_of(reader, f"{A2}/exhaust")
    assert "Limit used: permit of A2 (invented); hour average, NOx as NO2" in page
    assert "The limit of the permit at hand goes before every general rule." in page
    assert "/engines/A2/rules" in page
    decide = re.search(r'<p class="decide">.*?<span>(.*?)</span>', page, re.S)
    assert decide
    assert "As found: not sure either way; sure (95 in 100) below 0.9" in decide[1]
    assert "NOx, dry" in decide[1]


def test_without_a_limit_the_exhaust_page_says_that_nothing_is_judged(client: TestClient, records: Records) -> None:
    engine = next(one for one in records.engines() if one.tag == "A2")
    for entry in records.fold(engine.id).current:
        if entry.kind == "limit":
            records.append("withdrawn", {"why": "test"}, engine=engine.id, corrects=entry.id, who="tester")
    page = page_of(client, f"{A2}/exhaust")
    assert "No limit of a permit is on the record: nothing is judged." in page
    assert 'href="/engines/A2#limits"' in page


def test_ways_to_one_number_stand_beside_each_other(client: TestClient) -> None:
    ways = part(page_of(client, f"{A2}/exhaust"), "ways")
    assert "Do the methods agree?" in ways
    assert "Mixture, from dry oxygen" in ways
    assert "Mixture, from carbon dioxide" in ways
    assert re.search(r"As (found|left): (both ways|all .* ways) agree within their doubt|a difference shows", ways)


def test_a_method_that_stands_apart_is_said_with_what_could_be_behind_it(client: TestClient) -> None:
    put(client, "as_found", "stack", "exhaust_co2_dry", "5.2", "%")
    ways = part(page_of(client, f"{A2}/exhaust"), "ways")
    assert "does not agree with" in ways
    assert "Behind it is a reading that they do not share: CO2, dry (stack)" in ways
    assert 's-clash"' in ways


def test_choosing_a_way_is_kept_and_can_be_given_back(client: TestClient, records: Records) -> None:
    def chosen() -> str:
        visit = view(records, "A2/2032-07-08")
        found = visit.worked.result("as_found/stack/excess_air_ratio")
        assert found
        return found.worksheet

    before = chosen()
    said = {"quantity": "excess_air_ratio", "place": "stack", "worksheet": "mixture_from_co2", "why": "oxygen cell old"}
    answer = client.post(f"{A2}/exhaust/way", data=said)
    assert (answer.status_code, answer.headers["location"]) == (303, f"{A2}/exhaust#ways-stack-excess_air_ratio")
    assert chosen() == "mixture_from_co2"
    kept = view(records, "A2/2032-07-08").entries[-1]
    assert (kept.kind, kept.content["why"]) == ("method_choice", "oxygen cell old")
    ways = part(page_of(client, f"{A2}/exhaust"), "ways")
    assert "Back to what the program prefers" in ways
    client.post(f"{A2}/exhaust/way", data=said | {"worksheet": ""})
    assert chosen() == before


@pytest.mark.parametrize("said", [("excess_air_ratio", "nobody"), ("excess_air_ratio", "methane_number"), ("no", "")])
def test_a_way_that_leads_somewhere_else_is_refused(client: TestClient, said: tuple[str, str]) -> None:
    answer = client.post(f"{A2}/exhaust/way", data={"quantity": said[0], "worksheet": said[1], "place": "stack"})
    assert answer.status_code in (400, 404, 422)


def test_the_last_visit_stands_beside_this_one(reader: TestClient) -> None:
    last = part(page_of(reader, f"{A2}/exhaust"), "compared")
    assert "8 April 2032" in last
    assert "NOx per energy" in last
    assert "that it went up" in last
    assert "ghostdisc" in last


def test_the_first_visit_says_so(reader: TestClient) -> None:
    last = part(page_of(reader, "/engines/D2/2032-06-21/exhaust"), "compared")
    assert "This is the first visit of this engine in the record." in last


def test_the_fuel_page_shows_what_burns_and_its_sum(reader: TestClient) -> None:
    gas = part(page_of(reader, f"{A2}/fuel"), "gas")
    assert "Laboratory, sample of 2 May (gas G1)" in gas
    assert "The analysis adds up to 100.0" in gas
    assert "What burns: Methane 91.2" in gas
    line = part(page_of(reader, f"{A2}/fuel"), "line")
    assert "The line is warmer than where heavy hydrocarbons would drop out." in line


def test_the_methane_number_stands_against_what_the_build_needs(client: TestClient) -> None:
    put(client, "as_found", "engine", "required_methane_number", "75")
    page = page_of(client, f"{A2}/fuel")
    assert "Within 2 of it no method decides" in page
    assert 'class="unsure"' in page
    put(client, "as_found", "engine", "required_methane_number", "60")
    assert re.search(r"The build needs 60\.0.*The gas lies 16 over it", page_of(client, f"{A2}/fuel"))


def test_a_kept_analysis_is_folded_and_an_open_one_is_not(client: TestClient, reader: TestClient) -> None:
    assert "The analysis: 1" in page_of(reader, f"{A2}/fuel")
    answer = client.post("/engines/new", data={"tag": "Z9", "driven": "generator"})
    assert answer.status_code == 303
    opened = client.post("/engines/Z9/visits", data={"purpose": "first"})
    if opened.status_code == 303:
        page = page_of(client, f"{opened.headers['location']}/fuel")
        assert "No analysis yet. Least needed:" in page
        assert "The analysis:" not in page


def test_the_load_page_leads_from_the_plate_to_the_site_rating(reader: TestClient) -> None:
    rating = part(page_of(reader, f"{A2}/load"), "rating")
    assert "Plate 1,971 hp" in rating
    assert "Site rating" in rating
    assert "Load carried 1,735 hp and 1,740 hp" in rating
    assert re.search(r"As found: \d+\.\d % \([\d.]+ to [\d.]+\) of the site rating", rating)
    assert "a test at full load asks for" in rating


def test_the_heat_of_the_fuel_is_split_along_one_axis(client: TestClient) -> None:
    for place, name, value, unit in (
        ("engine", "jacket_water_outlet_temperature", "184", "°F"),
        ("engine", "jacket_water_flow", "420", "gpm"),
        ("engine", "auxiliary_water_flow", "150", "gpm"),
    ):
        put(client, "as_found", place, name, value, unit)
    heat = part(page_of(client, f"{A2}/load"), "heat")
    for said in ("Work at the shaft", "Exhaust", "Jacket water", "Auxiliary water"):
        assert said in heat
    assert "% of the net heat of the fuel" in heat
    assert "stretch-f" in heat


def test_a_catalyst_shows_conversion_and_its_temperature_rise(client: TestClient) -> None:
    before, after = "before_catalyst", "after_catalyst"
    for place, name, value, unit in (
        (before, "exhaust_oxygen_dry", "0.6", "%"),
        (after, "exhaust_oxygen_dry", "0.4", "%"),
        (before, "exhaust_co_dry", "6100", "ppm"),
        (after, "exhaust_co_dry", "300", "ppm"),
        ("engine", "catalyst_inlet_temperature", "1020", "°F"),
        ("engine", "catalyst_outlet_temperature", "1075", "°F"),
    ):
        put(client, "as_found", place, name, value, unit)
    catalyst = part(page_of(client, f"{A2}/exhaust"), "catalyst")
    assert "Converted: CO as found 95" in catalyst
    assert "Temperature rise" in catalyst


def test_a_trail_folds_the_readings_that_hold_no_doubt(reader: TestClient) -> None:
    trail = part(page_of(reader, f"{A2}/exhaust"), "trail")
    assert re.search(r"\d+ readings that hold next to none of the doubt", trail)


@pytest.mark.parametrize("visit", ["/engines/A3/2032-03-15", "/engines/N1/2032-02-12", "/engines/D1/2032-06-20"])
@pytest.mark.parametrize("step", ROOMS)
def test_pages_of_other_engines_are_whole(reader: TestClient, visit: str, step: str) -> None:
    page = page_of(reader, f"{visit}/{step}")
    assert "nan" not in re.sub(r"<[^>]*>", " ", page).split()
    assert " style=" not in page


def test_the_rest_of_the_set_shows_its_results_small_and_an_assumption_once(reader: TestClient) -> None:
    other = page_of(reader, f"{A2}/other")
    assert '<article class="result">' not in other  # nothing there stands beside a limit
    assert re.search(r'<details class="also" id="words-1" open>', other)
    for step in ROOMS:
        results = page_of(reader, f"{A2}/{step}").partition('data-part="results"')[2].partition("</section>")[0]
        said = re.findall(r'<li class="small">(.*?)</li>', results)
        assert len(said) == len(set(said))


def test_a_long_unit_has_a_line_of_its_own(reader: TestClient) -> None:
    page = page_of(reader, f"{A2}/fuel")
    for classes, chosen in re.findall(
        r'<div class="(fu[^"]*)">\s*<select[^>]*>.*?<option selected>([^<]*)<', page, re.S
    ):
        assert ("long" in classes) == (len(chosen) > 6)


def test_of_two_mixtures_for_a_limit_the_page_says_which_is_to_be_set(reader: TestClient) -> None:
    """A2 was read before and after the change: each has a lambda of its own."""
    page = reader.get(f"{A2}/exhaust").text
    assert page.count("From the readings before the change: kept for comparison, not to be set.") == 1
    assert page.count("From the readings after the change: this is the one to set.") == 1
