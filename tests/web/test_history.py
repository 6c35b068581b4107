"""The pages of a log: with links alone, under the hand, brought in from a file, all engines, and for other programs."""

from __future__ import annotations

import re
import shutil
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect
from starlette.applications import Starlette
from starlette.testclient import TestClient

from asfound.history.channels import Channels
from asfound.history.look_disk import VERSION, keep
from asfound.history.look_parts import ChannelThere, EngineLook, Indicator, Interval, Moment, Reach
from asfound.history.sink import StoreSink
from asfound.records.demo import make_demo_home
from asfound.records.logs_of_engine import logs
from asfound.records.store import Records
from asfound.web.app import create_app

from .conftest import start
from .test_accessibility import axe_script, violations

HOUR = 3_600_000_000
DAY = 24 * HOUR
BEGIN = round(datetime(2031, 7, 1, tzinfo=UTC).timestamp()) * 1_000_000
DAYS = 372
A2 = "/engines/A2/2032-07-08"
NOX = "nox_sensor_reading@stack"


def rows(days: int = DAYS) -> Channels:
    """Return hourly rows: one that rises from day 200 on, one steady, one with a gap of ten days."""
    at = BEGIN + np.arange(days * 24, dtype=np.int64) * HOUR
    day = np.arange(days * 24) / 24.0
    wave = np.sin(2 * np.pi * day)
    at_gap = (day >= 100) & (day < 110)
    nox = 90e-6 + 0.2e-6 * np.clip(day - 200, 0, None) + 1e-6 * wave
    values = {
        NOX: np.where(at_gap, np.nan, nox),
        "jacket_water_outlet_temperature@engine": 358.0 + 1.5 * wave,
        "engine_power@engine": 1.3e6 + 2e4 * wave,
        "raw:Pump running@engine": np.ones(len(at)),
    }
    return Channels(time=at[~at_gap], values={k: v[~at_gap] for k, v in values.items()}, source="A2 panel #1")


def a_look() -> EngineLook:
    """Return a look at those rows made by hand: the page shows it, it does not work it out."""
    end = BEGIN + DAYS * DAY
    at = tuple(BEGIN + i * DAY for i in range(DAYS) if not 100 <= i < 110)
    daily = tuple(90e-6 + 0.2e-6 * max(i - 200, 0) for i in range(DAYS) if not 100 <= i < 110)
    reach = Reach(time=end + 40 * DAY, earliest=end + 30 * DAY, latest=end + 60 * DAY, never=0.0, reached=0.0,
                  hours=960.0, low=720.0, high=1440.0, far=False,
                  says="In about 960 run hours; from 720 h to 1,440 h.")  # fmt: skip
    began = Moment(time=BEGIN + 200 * DAY, earliest=BEGIN + 195 * DAY, latest=BEGIN + 206 * DAY)
    nox = Indicator(
        key="nox", title="NOx at the engine's own sensor", channel=NOX, quantity="nox_sensor_reading", place="stack",
        group="exhaust", wanted="lower", share=True, matters=0.05, sees="mixture", kind="drift", odds={"drift": 0.97},
        now=Interval(124.4e-6, 123e-6, 126e-6), slope=Interval(0.05, 0.04, 0.06), moved=Interval(0.32, 0.30, 0.34),
        moved_from=BEGIN, began=began, limit=132e-6,
        limit_from="permit, 1.0 g/hp-h, as measured", reach=reach, judged="near",
        says="NOx at the engine's own sensor: rises since 2032-01-17.", daily_time=at, daily=daily, number=len(daily),
    )  # fmt: skip
    there = ChannelThere(channel=NOX, quantity="nox_sensor_reading", place="stack", n=8000, share=1.0, first=BEGIN,
                         last=end, low=80e-6, high=130e-6, mean=100e-6)  # fmt: skip
    return EngineLook(engine="A2", day="2032-07-07", version=VERSION, digest="0" * 16, start=BEGIN, end=end, rows=8688,
                      step=3600.0, channels=(there,), indicators=(nox,))  # fmt: skip


def fill(home: Path) -> None:
    """Bring the rows into a demo home, with their entry and their look."""
    with Records.open(home) as records:
        engine = records.engine("A2")
        sink = StoreSink(logs(records), "A2", "A2 panel #1")
        sink.add(rows())
        sink.commit()
        content = {
            "stored_as": "A2",
            "source": "A2 panel #1",
            "read": 8688,
            "kept": 8688,
            "time": "2032-07-08T08:00:00-06:00",
        }
        records.append("log_imported", content, engine=engine.id, who="tester")
        keep(logs(records), a_look())


@pytest.fixture(scope="module")
def logged(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("history") / "demo"
    make_demo_home(folder)
    fill(folder)
    return folder


@pytest.fixture(scope="module")
def pages(logged: Path) -> Iterator[TestClient]:
    with Records.open(logged) as records:
        app = create_app(records, who="tester", debug=True)
        with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as client:
            yield client


@pytest.fixture(scope="module")
def address(logged: Path) -> Iterator[str]:
    with Records.open(logged) as records:
        server, thread, where = start(create_app(records, who="tester", debug=False))
        yield where
        server.should_exit = True
        thread.join(timeout=10)


def shown_span(html: str) -> tuple[int, int]:
    found = re.search(r'data-start="(\d+)" data-end="(\d+)"', html)
    assert found
    return int(found[1]), int(found[2])


# ---------------------------------------------------------------------- links alone


def test_a_visit_has_its_history_on_the_spine(pages: TestClient) -> None:
    assert f'href="{A2}/history"' in pages.get(A2).text


def test_rows_say_what_moved_and_when_the_limit_is_reached(pages: TestClient) -> None:
    html = pages.get(f"{A2}/history").text
    assert "since 17 January 2032 (12 to 23 January 2032)" in html
    assert "permit, 1.0 g/hp-h: 132 ppm" in html
    assert "drift begins" in html
    assert "97 in 100" in html
    assert "In about 960 run hours" in html
    assert "tl-fan" in html
    assert "tl-gap" in html


def test_a_gap_is_never_bridged(pages: TestClient) -> None:
    html = pages.get("/engines/A2/history?row=jacket_water_outlet_temperature@engine").text
    line = re.search(r'class="tl-mean" d="([^"]*)"', html)
    assert line
    assert line[1].count("M ") == 2


def test_links_pan_and_zoom_without_script(pages: TestClient) -> None:
    html = pages.get("/engines/A2/history?from=2032-01-01&to=2032-01-31").text
    a, b = shown_span(html)
    assert b - a == 31 * 86_400
    href = {name: re.search(rf'data-tl="{name}" href="([^"#]*)', html)[1].replace("&amp;", "&") for name in  # type: ignore[index]
            ("earlier", "later", "closer", "wider")}  # fmt: skip
    spans = {name: shown_span(pages.get(where).text) for name, where in href.items()}
    half = (b - a) // 2
    assert spans["earlier"] == (a - half, b - half)
    assert spans["later"] == (a + half, b + half)
    assert spans["closer"][1] - spans["closer"][0] == pytest.approx(half, abs=2)
    assert spans["wider"][1] - spans["wider"][0] == pytest.approx(2 * (b - a), abs=2)


@pytest.mark.parametrize(("name", "days"), [("year", 366), ("month", 31), ("week", 7), ("day", 1)])
def test_named_stretches(pages: TestClient, name: str, days: int) -> None:
    a, b = shown_span(pages.get(f"/engines/A2/history?span={name}").text)
    assert b - a == days * 86_400


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("from=yesterday", "is no date"),
        ("from=2032-02-01&to=2032-01-01", "The end is not after the beginning"),
        ("from=1990-01-01&to=1990-02-01", "Nothing was logged then"),
    ],
)
def test_what_cannot_be_shown_is_said(pages: TestClient, query: str, says: str) -> None:
    answer = pages.get(f"/engines/A2/history?{query}")
    assert answer.status_code == 200
    assert says in answer.text


def test_channels_are_found_by_words_and_chosen(pages: TestClient) -> None:
    found = pages.get("/engines/A2/history?find=pump").text
    assert "Pump running" in found
    assert 'value="engine_power@engine"' not in found
    chosen = pages.get("/engines/A2/history?row=engine_power@engine&row=no_such@engine").text
    assert chosen.count('<div class="tlrow">') == 2  # the channel that exists, and the lane of events


def test_an_engine_without_a_log_says_how_to_bring_one(pages: TestClient) -> None:
    html = pages.get("/engines/N1/history").text
    assert "no log is here yet" in html
    assert "Least needed" in html
    assert "/engines/N1/history/import" in html


def test_a_visit_sees_no_later_than_its_day(pages: TestClient) -> None:
    early = pages.get("/engines/A2/2032-04-08/history").text
    assert "to 8 April 2032" in early


# ---------------------------------------------------------------------- under the hand


@pytest.fixture
def desk(browser: Browser, address: str) -> Iterator[Page]:
    context = browser.new_context(base_url=address, viewport={"width": 1440, "height": 900})
    page = context.new_page()
    page.set_default_timeout(8000)
    yield page
    context.close()


def _span(page: Page) -> tuple[int, int]:
    box = page.locator("#tl")
    return int(box.get_attribute("data-start") or 0), int(box.get_attribute("data-end") or 0)


def test_dragging_moves_the_picture_at_once_and_the_answer_takes_its_place(desk: Page) -> None:
    desk.goto("/engines/A2/history?from=2032-01-01&to=2032-01-31")
    before = _span(desk)
    box = desk.locator("#tl svg.tl-svg").first.bounding_box()
    assert box
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    desk.mouse.move(x, y)
    desk.mouse.down()
    desk.mouse.move(x + 200, y, steps=4)
    moved = desk.locator("#tl .mv").first.get_attribute("transform") or ""
    assert moved.startswith("matrix(1 0 0 1 ")
    desk.mouse.up()
    expect(desk.locator("#tl")).not_to_have_attribute("data-start", str(before[0]))
    after = _rests(desk)
    assert after[0] < before[0]
    assert after[1] - after[0] == pytest.approx(before[1] - before[0], abs=2)
    expect(desk).to_have_url(re.compile(f"from={after[0]}"))


def test_the_wheel_comes_closer_about_the_pointer(desk: Page) -> None:
    desk.goto("/engines/A2/history?from=2032-01-01&to=2032-01-31")
    before = _span(desk)
    box = desk.locator("#tl svg.tl-svg").first.bounding_box()
    assert box
    desk.mouse.move(box["x"] + box["width"] / 2, box["y"] + 80)
    desk.mouse.wheel(0, -300)
    expect(desk.locator("#tl")).not_to_have_attribute("data-start", str(before[0]))
    after = _rests(desk)
    assert before[0] < after[0] < after[1] < before[1]


TWO_TURNS = """() => {
  const picture = [...document.querySelectorAll("#tl svg.tl-svg")].find((one) => one.getClientRects().length);
  const box = picture.getBoundingClientRect();
  const turn = () => picture.dispatchEvent(new WheelEvent("wheel",
    { bubbles: true, cancelable: true, deltaY: -150, clientX: box.left + box.width / 2, clientY: box.top + 40 }));
  const plain = DOMParser.prototype.parseFromString;
  DOMParser.prototype.parseFromString = function (...given) {
    DOMParser.prototype.parseFromString = plain;
    turn();
    return plain.apply(this, given);
  };
  turn();
}"""


def test_a_turn_of_the_wheel_while_the_answer_comes_is_not_lost(desk: Page) -> None:
    desk.goto("/engines/A2/history?from=2032-01-01&to=2032-01-31")
    before = _span(desk)
    desk.evaluate(TWO_TURNS)
    expect(desk.locator("#tl")).not_to_have_attribute("data-start", str(before[0]))
    after = _rests(desk)
    assert (after[1] - after[0]) / (before[1] - before[0]) == pytest.approx(np.exp(-1.0), rel=0.02)


def test_keys_move_the_picture(desk: Page) -> None:
    desk.goto("/engines/A2/history?from=2032-01-01&to=2032-01-31")
    before = _span(desk)
    desk.locator("#tl").focus()
    desk.keyboard.press("ArrowRight")
    expect(desk.locator("#tl")).not_to_have_attribute("data-start", str(before[0]))
    expect(desk.locator("#tl")).to_be_focused()
    assert _span(desk)[0] > before[0]


@pytest.fixture
def tablet(browser: Browser, address: str) -> Iterator[Page]:
    context = browser.new_context(
        base_url=address, viewport={"width": 820, "height": 1180}, has_touch=True, is_mobile=True
    )
    page = context.new_page()
    page.set_default_timeout(8000)
    yield page
    context.close()


def _rests(page: Page) -> tuple[int, int]:
    """Return the span when the picture stands still: the hand is off, and no answer is on its way."""
    expect(page.locator("#tl")).not_to_have_class(re.compile("is-(held|moving)"))
    return _span(page)


def _fingers(page: Page, *moves: list[tuple[float, float]]) -> None:
    """Put fingers down at the first places, move them through the others, and lift them."""
    hand = page.context.new_cdp_session(page)

    def send(kind: str, places: list[tuple[float, float]]) -> None:
        points = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(places)]
        hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    send("touchStart", moves[0])
    for places in moves[1:]:
        send("touchMove", places)
    send("touchEnd", [])


def test_two_fingers_come_closer_and_one_moves(tablet: Page) -> None:
    tablet.goto("/engines/A2/history?from=2032-01-01&to=2032-01-31#trend")
    before = _span(tablet)
    picture = tablet.locator("#tl svg.tl-svg:visible").first
    picture.scroll_into_view_if_needed()
    box = picture.bounding_box()
    assert box
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    apart = [[(x - reach, y), (x + reach, y)] for reach in (60, 90, 120, 180)]
    _fingers(tablet, *apart)
    expect(tablet.locator("#tl")).not_to_have_attribute("data-start", str(before[0]))
    closer = _rests(tablet)
    assert before[0] < closer[0] < closer[1] < before[1]
    assert closer[1] - closer[0] == pytest.approx((before[1] - before[0]) / 3.0, rel=0.1)
    _fingers(tablet, *([(x + by, y)] for by in (0, 20, 60, 120)))
    expect(tablet.locator("#tl")).not_to_have_attribute("data-start", str(closer[0]))
    moved = _rests(tablet)
    assert moved[0] < closer[0]
    assert moved[1] - moved[0] == pytest.approx(closer[1] - closer[0], abs=2)


def test_a_finger_that_goes_up_scrolls_the_page(tablet: Page) -> None:
    tablet.goto("/engines/A2/history?from=2032-01-01&to=2032-01-31")
    picture = tablet.locator("#tl svg.tl-svg").first
    assert picture.evaluate("one => getComputedStyle(one).touchAction").startswith("pan-y")


def test_the_buttons_work_without_script(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, java_script_enabled=False)
    page = context.new_page()
    page.goto("/engines/A2/history?from=2032-01-01&to=2032-01-31")
    before = _span(page)
    page.get_by_role("link", name="Earlier").click()
    assert _span(page)[0] < before[0]
    context.close()


def test_no_page_of_the_log_overflows_a_phone(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, viewport={"width": 390, "height": 844})
    page = context.new_page()
    for path in (f"{A2}/history", "/engines/N1/history", "/engines/A2/history/import", "/fleet"):
        page.goto(path)
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, path
    context.close()


# ---------------------------------------------------------------------- bringing a log in

LOG = "Time,Brake Power [kW],Jacket Water Out [°C],Oil Press\n" + "".join(
    f"2032-05-{1 + i // 24:02d} {i % 24:02d}:00:00,{1300 + i % 7},{85 + 0.1 * (i % 5):.1f},{4.1 + 0.01 * (i % 3):.2f}\n"
    for i in range(24 * 20)
).replace("2032-05-03 04:00:00,1303", "2032-05-03 04:00:00,Bad")


def _upload(client: TestClient, text: str = LOG, tag: str = "N1") -> str:
    sent = client.post(
        f"/engines/{tag}/history/import", files={"log": ("panel.csv", text.encode())}, data={"source": "panel"}
    )
    assert sent.status_code == 303, sent.text
    return str(sent.headers["location"])


def test_a_file_is_asked_about_then_read_and_reported(client: TestClient) -> None:
    where = _upload(client)
    asked = client.get(where).text
    assert "Engine power" in asked
    assert "First rows as they are read" in asked
    assert "Zone of the clock" in asked
    fields = dict(re.findall(r'name="([qpu]\d+)"[^>]*? value="([^"]*)"', asked))
    begun = client.post(where, data={**fields, "zone": "+01:00", "do": "read", "source": "panel", "order": "ymd"})
    assert begun.status_code == 303, re.findall(r'class="err"[^>]*>.*?<span>(.*?)</span>', begun.text)
    until = time.monotonic() + 60
    while (state := client.get(f"{where}/state").json())["stage"] in ("reading", "working_out"):
        assert time.monotonic() < until
        time.sleep(0.1)
    assert state["stage"] == "done", state
    done = client.get(where).text
    assert "It is in" in done
    assert "not-taken.csv" in done, re.sub("<[^>]*>", " ", done)[-900:]
    assert state["read"] == 480
    table = client.get(f"{where}/not-taken.csv").text.splitlines()
    assert table[0] == "file,line,last line,rows,column,kind,why,text"
    assert any("panel.csv,54," in one and "Bad" in one for one in table)
    assert 'id="tl"' in client.get("/engines/N1/history").text


def _first_rows(html: str) -> tuple[str, str]:
    table = html.partition('class="plain preview"')[2]
    return re.findall(r"<th>([^<]*)</th>", table)[0], re.findall(r'<th scope="row">([^<]*)</th>', table)[0]


def test_the_first_rows_are_shown_at_the_clock_that_is_said(client: TestClient) -> None:
    where = _upload(client, tag="A2")  # the site's clock is filled in
    assert _first_rows(client.get(where).text) == ("Time, UTC; the file&#39;s clock at -06:00", "2032-05-01 06:00:00")
    for zone, first in (("UTC", "2032-05-01 00:00:00"), ("America/Chicago", "2032-05-01 05:00:00")):
        assert client.post(where, data={"zone": zone, "do": "look", "order": "ymd"}).status_code == 303
        head, row = _first_rows(client.get(where).text)
        assert row == first
        assert head.startswith("Time, UTC")
    without = client.post(where, data={"zone": "", "do": "look", "order": "ymd"})
    assert without.status_code == 422
    assert _first_rows(without.text) == ("Time as written; UTC is known with the zone", "2032-05-01 00:00:00")
    said = _upload(client, LOG.replace(":00:00,", ":00:00-06:00,"), tag="A2")
    assert _first_rows(client.get(said).text) == ("Time, UTC", "2032-05-01 06:00:00")


def test_an_import_can_be_taken_out_again(client: TestClient) -> None:
    where = _upload(client)
    client.post(where, data={"zone": "UTC", "do": "read", "order": "ymd"})
    until = time.monotonic() + 60
    while client.get(f"{where}/state").json()["stage"] in ("reading", "working_out"):
        assert time.monotonic() < until
        time.sleep(0.1)
    assert client.post(where, data={"do": "withdraw"}).status_code == 303
    assert "Taken out again: 480 rows" in client.get(where).text
    assert "no log is here yet" in client.get("/engines/N1/history").text


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"zone": "", "order": "ymd"}, "in which zone its clock was set"),
        ({"zone": "Nowhere/Town", "order": "ymd"}, "zone"),
        ({"zone": "UTC", "order": "ymd", "q1": "Warp speed"}, "is no reading of the register"),
        ({"zone": "UTC", "order": "ymd", "barometer": "tall"}, "tall"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_read(client: TestClient, typed: dict[str, str], says: str) -> None:
    where = _upload(client)
    answer = client.post(where, data={"do": "read", **typed})
    assert answer.status_code == 422
    assert says in answer.text
    assert client.get(f"{where}/state").json()["stage"] == "asked"


def test_what_is_no_log_is_refused_and_not_kept(client: TestClient, home: Path) -> None:
    sent = client.post("/engines/N1/history/import", files={"log": ("photo.jpg", bytes(range(256)) * 40)})
    assert sent.status_code == 422
    assert "was not kept" in sent.text
    assert not any((home / "imports").glob("*")) if (home / "imports").exists() else True
    assert client.post("/engines/N1/history/import", files={"log": ("", b"")}).status_code == 422


@pytest.mark.parametrize("name", ["..%2f..%2fetc", "20260101000000-deadbeef", "A" * 60])
def test_an_import_that_does_not_exist(client: TestClient, name: str) -> None:
    assert client.get(f"/engines/N1/history/import/{name}").status_code in (400, 404)


# ---------------------------------------------------------------------- all engines, other programs


def test_the_fleet_shows_what_wants_a_hand_first(pages: TestClient) -> None:
    html = pages.get("/fleet").text
    first = re.search(r'<article class="mult">.*?</article>', html, re.S)
    assert first
    assert "A2" in first[0]
    assert "At its limit on" in first[0]
    assert "wallline" in first[0]
    assert html.count("No log yet") == 6
    assert pages.get("/fleet?find=dunmirrow").text.count('class="mult"') == 2


def test_the_fleet_for_other_programs(pages: TestClient) -> None:
    found = pages.get("/api/fleet").json()
    assert [found[0]["tag"], found[0]["state"], len(found)] == ["A2", "card", 7]


def test_a_view_for_other_programs_holds_every_value(pages: TestClient) -> None:
    channel = "jacket_water_outlet_temperature@engine"
    found = pages.get(f"/api/engines/A2/history/view?channel={channel}&width=200").json()
    given = rows()
    values = given.values[channel]
    shown = found["channels"][channel]
    assert sum(shown["n"]) == len(values) == found["values_behind"]
    assert max(one for one in shown["high"] if one is not None) == values.max()
    assert min(one for one in shown["low"] if one is not None) == values.min()
    means = [n * m for n, m in zip(shown["n"], shown["mean"], strict=True) if n]
    assert sum(means) == pytest.approx(values.sum(), rel=1e-9)
    assert len(shown["gaps"]) == 1


@pytest.mark.parametrize("query", ["channel=none@engine", "width=0", "width=many", "from=soon", "day=soon"])
def test_a_view_that_cannot_be_is_refused(pages: TestClient, query: str) -> None:
    assert pages.get(f"/api/engines/A2/history/view?{query}").status_code == 422


def test_no_log_is_no_view(pages: TestClient) -> None:
    assert pages.get("/api/engines/N1/history").status_code == 404
    assert pages.get("/api/engines/A2/history").json()["look"]["indicators"][0]["key"] == "nox"


def test_a_broken_card_is_made_again(logged: Path, tmp_path: Path) -> None:
    home = tmp_path / "home"
    shutil.copytree(logged, home)
    with (
        Records.open(home) as records,
        TestClient(create_app(records, who="t", debug=True), base_url="http://127.0.0.1") as client,
    ):
        client.get("/fleet")
        card = next((home / "logs" / ".cards").glob("*.json"))
        card.write_text("{")
        assert client.get("/api/fleet").json()[0]["reading"] == "NOx at the engine's own sensor"


# ---------------------------------------------------------------------- for everyone


def test_no_violation_where_a_log_is(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, bypass_csp=True)
    page, script = context.new_page(), axe_script()
    one_row = "/engines/A2/history?row=engine_power@engine&span=week"
    paths = (f"{A2}/history", one_row, "/fleet", "/engines/A2/history/import")
    found = [one for path in paths for one in violations(page, path, script)]
    context.close()
    assert found == []


def test_no_violation_on_what_is_asked_of_a_file(browser: Browser, app: Starlette, client: TestClient) -> None:
    where = _upload(client)
    client.post(where, data={"do": "read", "zone": ""})
    server, thread, address = start(app)
    context = browser.new_context(base_url=address, bypass_csp=True)
    found = violations(context.new_page(), where, axe_script())
    context.close()
    server.should_exit = True
    thread.join(timeout=10)
    assert found == []
