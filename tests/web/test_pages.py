"""Every page: it is there, no link on it is dead, nothing on it is inline, hostile text shows as text."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

import pytest
from starlette.testclient import TestClient

from asfound.quantities.words import Method
from asfound.quantities.worksheets import WORKSHEETS, load, worksheet
from asfound.records.store import Records
from asfound.web.words import STEPS

from .conftest import A2

VISIT_PAGES = [
    "", "/findings", "/report", "/log", "/crosscheck", "/crosscheck?state=as_left", "/due", "/gas", "/gas/mix",
    "/exhaust/test",
    *(f"/{step}" for step in STEPS),
]  # fmt: skip
SHELVES = [
    "/",
    "/engines/new",
    "/engines/A2",
    "/engines/A2/rules",
    "/engines/D1/due",
    "/engines/A1/due/upgrade",
    "/worksheets",
    "/worksheets/mixture_from_oxygen?exhaust_oxygen_dry=8.5+%25",
    "/catalogue",
    "/catalogue/slots/speed_controller",
    "/catalogue/families/TR10",
    "/instruments",
    "/sources",
    "/settings",
    "/take-in",
    "/find?find=oxygen",
]
OTHER_VISITS = [
    "/engines/A1/2032-05-03/fitted",
    "/engines/A3/2032-03-15/fitted",
    "/engines/A3/2032-03-15/crosscheck",
    "/engines/D2/2032-06-21/fitted",
    "/engines/D2/2032-06-21/crosscheck?state=as_left",
]
ALL = [*SHELVES, *(A2 + step for step in VISIT_PAGES), *OTHER_VISITS]
HOSTILE = "<script>alert('x')</script>\"'><img src=x onerror=alert(1)>{{7*7}}"


class Links(HTMLParser):
    """Collect addresses, identifiers, and anything that would run or style inline."""

    def __init__(self) -> None:
        super().__init__()
        self.links: set[str] = set()
        self.posts: set[str] = set()
        self.ids: list[str] = []
        self.inline: list[str] = []
        self.scripts = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.inline += [f"{tag} {name}" for name in given if name == "style" or name.startswith("on")]
        if tag == "style" or (tag == "script" and "src" not in given):
            self.inline.append(tag)
        if tag == "script":
            self.scripts += 1
        for name in ("href", "src"):
            if name in given:
                self.links.add(given[name])
        if tag == "form":
            (self.posts if given.get("method") == "post" else self.links).add(given.get("action", ""))
        if "id" in given:
            self.ids.append(given["id"])


def parsed(html: str) -> Links:
    found = Links()
    found.feed(html)
    return found


@pytest.mark.parametrize("path", ALL)
def test_page_is_whole(reader: TestClient, path: str) -> None:
    answer = reader.get(path)
    assert answer.status_code == 200
    page = parsed(answer.text)
    assert page.inline == []
    # what is typed early, the box it goes through, the page's; older browsers, two tabs; one more where it draws
    assert 5 <= page.scripts <= 6
    assert len(page.ids) == len(set(page.ids)), "an id stands twice"
    assert answer.text.count("<h1") == 1
    assert 'lang="en"' in answer.text


def test_no_link_is_dead(reader: TestClient) -> None:
    """Follow every address on every page; anchors must exist on the page that they point to."""
    pages: dict[str, Links] = {}
    waiting, seen = list(ALL), set(ALL)
    dead, anchors = [], []
    while waiting:
        path = waiting.pop()
        if path.endswith((".pdf", ".json?files")):  # made on request, tested for themselves
            continue
        answer = reader.get(path)
        if answer.status_code != 200:
            dead.append((path, answer.status_code))
            continue
        if not answer.headers["content-type"].startswith("text/html"):
            continue
        pages[path] = parsed(answer.text)
        for link in pages[path].links:
            where = urljoin(path, link)
            assert not urlsplit(where).netloc, f"{path} leads outside: {link}"
            bare, _, anchor = where.partition("#")
            if anchor:
                anchors.append((path, bare, anchor))
            if bare not in seen and len(seen) < 900 and "/reading/" not in bare and "trail=" not in bare:
                seen.add(bare)
                waiting.append(bare)
    assert dead == []
    missing = [(at, to, anchor) for at, to, anchor in anchors if to in pages and anchor not in pages[to].ids]
    assert missing == []


def test_every_form_has_somebody_who_takes_it(reader: TestClient) -> None:
    for path in ALL:
        for action in parsed(reader.get(path).text).posts:
            # a post without fields is refused or ignored by its handler, but it is never an unknown address
            assert reader.options(action).status_code == 405, (path, action)


def test_unknown_address_says_what_is_near(reader: TestClient) -> None:
    answer = reader.get("/workshets")
    assert answer.status_code == 404
    assert 'href="/worksheets"' in answer.text
    near = reader.get("/engines/A7")
    assert near.status_code == 404
    assert "no engine is called" in near.text
    assert reader.get(f"{A2}/cross-check").status_code == 404


def test_hostile_text_shows_as_text(client: TestClient, records: Records) -> None:
    visit = records.visit("A2")
    view_before = len(records.entries(visit=visit.id))
    client.post(f"{A2}/notes", data={"text": HOSTILE})
    client.post(f"{A2}/findings/points", data={"says": HOSTILE, "severity": "soon", "who": HOSTILE, "note": HOSTILE})
    client.post(f"{A2}/events", data={"event": "changed", "says": HOSTILE})
    client.post(
        f"{A2}/fitted",
        data={"slot": "speed_controller", "answer": "seen", "how": "at_part", "note": HOSTILE, "l:label": HOSTILE[:60]},
    )
    client.post(f"{A2}/exhaust", data={"v:as_left/stack/exhaust_co_dry": HOSTILE})
    client.post("/instruments", data={"name": HOSTILE, "serial": HOSTILE, "source": HOSTILE})
    client.post("/settings", data={"person": HOSTILE[:80]})
    client.post(
        "/engines/new", data={"tag": "H<1>", "works_number": HOSTILE, "note": HOSTILE, "plate_generation": HOSTILE}
    )
    assert len(records.entries(visit=visit.id)) > view_before
    paths = [
        *(A2 + step for step in VISIT_PAGES),
        "/",
        "/instruments",
        "/settings",
        "/engines/H%3C1%3E",
        f"{A2}/fitted?place=speed_controller",
    ]
    for path in paths:
        page = client.get(path)
        assert page.status_code == 200, path
        assert "<script>alert" not in page.text
        assert "<img src=x" not in page.text
        assert parsed(page.text).inline == []
        assert "49" not in re.findall(r"onerror=alert\(1\)&gt;(\d+)", page.text)
    wrong = client.post(f"{A2}/exhaust", data={"v:as_left/stack/exhaust_co_dry": HOSTILE})
    assert wrong.status_code == 422
    assert parsed(wrong.text).inline == []
    assert HOSTILE.replace("&", "&amp;")[:8] not in wrong.text


def test_a_registered_worksheet_has_a_page_at_once(client: TestClient) -> None:
    @worksheet(
        title="Twice the oxygen",
        takes=("exhaust_oxygen_dry",),
        gives="exhaust_oxygen_wet",
        method=Method("doubling", "own_calculation"),
    )
    def twice_the_oxygen(oxygen: float) -> float:
        """Return twice what was given. [mol/mol]"""
        return 2 * oxygen

    # the register only lists worksheets of rooms; this one claims to be of a room
    twice_the_oxygen.__module__ = "asfound.exhaust.worksheets"
    load.cache_clear()
    try:
        shelf = client.get("/worksheets").text
        assert "/worksheets/twice_the_oxygen" in shelf
        page = client.get("/worksheets/twice_the_oxygen", params={"exhaust_oxygen_dry": "4 %"})
        assert page.status_code == 200
        assert "8.00" in page.text
    finally:
        del WORKSHEETS["twice_the_oxygen"]
        load.cache_clear()


def test_scripts_are_small() -> None:
    """15 KB are a page's own scripts and the box that what is typed goes through; 5 make up for what others do."""
    from importlib import resources

    sizes = {
        one.name: len(one.read_bytes())
        for one in (resources.files("asfound.web") / "static").iterdir()
        if one.name.endswith(".js")
    }
    assert sizes["early.js"] + sizes["asfound.js"] + sizes["outbox.js"] <= 15 * 1024
    assert sizes["older.js"] <= 3 * 1024
    assert sizes["twice.js"] <= 3 * 1024
    assert sizes["older.js"] + sizes["twice.js"] <= 5 * 1024  # older browsers; a second press, a second tab
    assert sizes["tablet.js"] <= 7 * 1024  # only on a tablet
    assert sizes["away.js"] <= 5 * 1024  # the service worker


def test_empty_home_offers_three_ways(tmp_path: object) -> None:
    from asfound.web.app import create_app

    with Records.open(str(tmp_path)) as empty:
        client = TestClient(
            create_app(empty, who="tester", debug=True), base_url="http://127.0.0.1", follow_redirects=False
        )
        page = client.get("/").text
        assert "No engine yet" in page
        assert {"/engines/new", "/take-in"} <= parsed(page).links
        assert "/demo" in parsed(page).posts
        assert client.post("/demo").status_code == 303
        shown = client.get("/").text
        assert "Leave the demo" in shown
        assert "Ashgrebe station" in shown
        assert empty.entries() == ()  # nothing of the demo got into the home's own record
        client.post("/demo/leave")
        assert "No engine yet" in client.get("/").text
