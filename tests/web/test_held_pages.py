"""Pages held in memory: sent again as they were made, and made anew whenever anything that they rest on has changed.

``ASFOUND_EXAMPLES=explore`` tries 200 histories of changes; the suite a few, the same each time.
"""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from starlette.applications import Starlette
from starlette.testclient import TestClient

from asfound.records import people as people_module
from asfound.records.home import Home
from asfound.records.people import People
from asfound.records.store import Records
from asfound.web import engine as engine_page
from asfound.web import held_pages, history_jobs
from asfound.web.app import create_app
from asfound.web.held_pages import HELD, HeldPages, Page
from asfound.web.office import office_app
from asfound.web.rooms import Rest

EXPLORING = os.environ.get("ASFOUND_EXAMPLES") == "explore"
OPEN, CLOSED = "/engines/A2/2032-07-08", "/engines/D2/2032-06-21"
OF_VISIT = ("", "/fitted", "/fuel", "/exhaust", "/crosscheck", "/findings", "/due", "/history", "/log", "/report")
PAGES = (
    "/", "/fleet", "/find?find=A2", "/settings", "/sources", "/worksheets", "/catalogue", "/instruments",
    "/engines/new", "/engines/A2", "/engines/A2/due", "/engines/A2/history",
    *(OPEN + one for one in OF_VISIT), *(CLOSED + one for one in OF_VISIT),
)  # fmt: skip


@dataclass
class Hands:
    """A clock that stands until it is moved."""

    time: datetime

    def now(self) -> datetime:
        return self.time


@pytest.fixture(autouse=True)
def settled(monkeypatch: pytest.MonkeyPatch) -> None:
    """The home was copied a moment ago; otherwise pages are held only when its files have rested for two seconds."""
    monkeypatch.setattr(held_pages, "SETTLED", -1e9)


@pytest.fixture
def clock(home: Path) -> Hands:
    return Hands(Home(home).clock().now())


@pytest.fixture
def records(home: Path, clock: Hands) -> Iterator[Records]:
    with Records.open(home, clock=clock) as opened:
        yield opened


def held(app: Starlette) -> dict[Any, Page]:
    pages: dict[Any, Page] = app.state.house.held._pages
    return pages


def sent_as_held(client: TestClient, app: Starlette, path: str, **headers: str) -> bool:
    """Ask for a page; tell whether it was sent as it was held."""
    before = {id(one) for one in held(app).values()}
    assert client.get(path, headers=headers).status_code == 200
    return bool(before) and {id(one) for one in held(app).values()} == before


@pytest.mark.parametrize("path", PAGES)
def test_a_page_is_sent_again_as_it_was_made(reader: TestClient, path: str) -> None:
    app: Any = reader.app
    first = reader.get(path)
    made = len(held(app))
    again = reader.get(path)
    assert len(held(app)) == made > 0
    assert (again.text, again.headers["content-type"]) == (first.text, first.headers["content-type"])
    assert again.headers["etag"] == first.headers["etag"]
    assert again.headers["content-security-policy"] == first.headers["content-security-policy"]
    kept = reader.get(path, headers={"if-none-match": again.headers["etag"]})
    assert (kept.status_code, kept.content) == (304, b"")
    assert sent_as_held(reader, app, path)


def test_every_address_that_is_held_is_one_of_a_room() -> None:
    known = {route.path for route in Rest().load().routes}  # type: ignore[attr-defined]
    assert known >= HELD


def test_what_somebody_writes_is_on_the_page(client: TestClient, records: Records, home: Path) -> None:
    """By this program, and by another one on the same home."""
    said = ("The bolt of the guard was loose.", "The hose of the governor was chafed.")
    visit = records.visit("A2/2032-07-08").id
    for written_by_another, text in enumerate(said):
        assert text not in client.get(f"{OPEN}/log").text
        content = {"text": text, "time": records.clock.now().isoformat(timespec="seconds")}
        if written_by_another:
            with Records.open(home) as other:
                other.append("note", content, visit=visit, who="M. Falk")
        else:
            records.append("note", content, visit=visit, who="M. Falk")
        assert text in client.get(f"{OPEN}/log").text


def test_settings_language_light_and_units_have_their_own(client: TestClient, app: Starlette, records: Records) -> None:
    plain = client.get(f"{OPEN}/exhaust").text
    assert 'data-light="night"' in client.get(f"{OPEN}/exhaust", headers={"cookie": "light=night"}).text
    assert client.get(f"{OPEN}/exhaust?language=de").text != plain
    assert client.get(f"{OPEN}/exhaust", headers={"accept-language": "es"}).text != plain
    assert sent_as_held(client, app, f"{OPEN}/exhaust")
    records.home.change(units="si" if records.engine("A2").units == "us" else "us")
    assert client.get(f"{OPEN}/exhaust").text != plain


def test_only_the_line_of_the_day_goes_with_the_minute(client: TestClient, app: Starlette, clock: Hands) -> None:
    both = (OPEN, f"{OPEN}/exhaust", CLOSED)
    before = [client.get(path).text for path in both]
    clock.time += timedelta(minutes=7)
    assert client.get(OPEN).text != before[0]
    assert sent_as_held(client, app, f"{OPEN}/exhaust")
    assert sent_as_held(client, app, CLOSED)
    clock.time += timedelta(days=3)
    assert not sent_as_held(client, app, f"{OPEN}/exhaust")


def test_a_catalogue_of_the_company_is_watched(client: TestClient, app: Starlette, home: Path) -> None:
    packaged = Path(engine_page.__file__).parents[1] / "fitout" / "data" / "ebbingstoke"
    shutil.copytree(packaged, home / "ours", ignore=shutil.ignore_patterns("__pycache__"))
    Home(home).change(catalogue="ours")
    path = f"{OPEN}/fitted"
    assert not sent_as_held(client, app, path)
    assert sent_as_held(client, app, path)
    one = next(iter(sorted((home / "ours").rglob("*.yaml"))))
    one.write_text(one.read_text("utf-8") + "\n# seen again\n", encoding="utf-8")
    assert not sent_as_held(client, app, path)


def test_an_import_that_goes_on_is_told_and_not_held(client: TestClient, app: Starlette, records: Records) -> None:
    path = "/engines/A2/history"
    client.get(path)
    assert sent_as_held(client, app, path)
    job = history_jobs.Job(id="20320708-abcdef", engine=records.engine("A2").id, title="a.csv", stage="reading")
    history_jobs.save(records, job)
    history_jobs._running[job.id] = threading.current_thread()
    try:
        assert "a.csv" in client.get(path).text
        assert not sent_as_held(client, app, path)
    finally:
        del history_jobs._running[job.id]


def test_a_page_that_waits_for_something_is_not_held(
    client: TestClient, app: Starlette, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine_page, "summaries", lambda *_: {})
    assert not sent_as_held(client, app, "/engines/A2")
    assert not sent_as_held(client, app, "/engines/A2")


def test_a_page_for_the_script_is_never_the_held_one(client: TestClient, app: Starlette) -> None:
    path = f"{OPEN}/exhaust"
    client.get(path)
    assert held_pages.key_of(scope_of(app, path, {"x-asfound-column": "as_left"})) is None
    assert held_pages.key_of(scope_of(app, path, {}, method="POST")) is None
    assert held_pages.key_of(scope_of(app, path, {})) in held(app)


def scope_of(app: Starlette, path: str, headers: dict[str, str], method: str = "GET") -> dict[str, Any]:
    raw = [(name.encode(), value.encode()) for name, value in headers.items()]
    return {
        "type": "http", "app": app, "method": method, "path": path, "query_string": b"", "headers": raw,
    }  # fmt: skip


def test_who_is_not_signed_in_is_sent_no_held_page(records: Records, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(people_module, "COST", (1, 8, 1))
    People(records.database, records.clock).add("K. Keeper", "keeper", "three plain words")
    app = office_app(records, debug=True)
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as keeper:
        keeper.post("/sign-in", data={"name": "K. Keeper", "password": "three plain words", "back": "/"})
        for _ in range(2):
            assert keeper.get(f"{CLOSED}/log").status_code == 200
        assert held(app)
        with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as stranger:
            assert stranger.get(f"{CLOSED}/log", headers={"accept": "text/html"}).status_code == 303
        keeper.post("/sign-out")
        assert keeper.get(f"{CLOSED}/log", headers={"accept": "text/html"}).status_code == 303


def test_a_record_that_is_gone_is_told_and_not_covered_by_what_is_held(client: TestClient, home: Path) -> None:
    assert client.get(CLOSED).status_code == 200
    (home / "record.sqlite").rename(home / "elsewhere.sqlite")
    answer = client.get(CLOSED)
    assert answer.status_code != 200
    assert "is gone" in answer.text


def test_a_file_that_changed_just_now_is_waited_for(client: TestClient, app: Starlette, monkeypatch: Any) -> None:
    monkeypatch.setattr(held_pages, "SETTLED", 1e6)
    client.get(CLOSED)
    assert not held(app)


def test_what_is_held_stays_within_its_bytes() -> None:
    pages = HeldPages(most=10_000)
    for at in range(100):
        pages.hold(at, Page(stamp=at, paths=(), minutes=False, body=bytes(999), tag=""))
        assert pages.bytes == sum(len(one.body) for one in pages._pages.values()) <= 10_000
    assert list(pages._pages) == list(range(90, 100))
    pages.hold("large", Page(stamp=0, paths=(), minutes=False, body=bytes(50_000), tag=""))
    assert list(pages._pages) == ["large"]


# ---------------------------------------------------------------------- any history of changes


@dataclass
class Doors:
    """One home behind two programs: one holds and keeps pages, the other makes each afresh."""

    records: Records
    other: Records
    clock: Hands
    holds: TestClient
    fresh: TestClient
    cookies: dict[str, str] = field(default_factory=dict)

    def ask(self, client: TestClient, path: str) -> str:
        cookie = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        answer = client.get(path, headers={"cookie": cookie} if cookie else {})
        assert answer.status_code == 200
        return answer.text


class Never(HeldPages):
    """Holds nothing."""

    def hold(self, key: Any, page: Page) -> None:
        """Let it go."""


class AnyHistory(RuleBasedStateMachine):
    """Whatever is written, undone, set or chosen, by whom and when: the page is the one made afresh."""

    home: Path
    doors: Doors

    @initialize()
    def begin(self) -> None:
        folder = self.home.with_name("again")
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(self.home, folder)
        clock = Hands(Home(folder).clock().now())
        records, other = Records.open(folder, clock=clock), Records.open(folder, clock=clock)
        holding, making = create_app(records, who="t", debug=True), create_app(other, who="t", debug=True)
        making.state.house.held = Never()
        other.remembered(("kept store",), lambda: None)  # nothing is kept beside the record for it
        holds, fresh = (TestClient(one, base_url="http://127.0.0.1") for one in (holding, making))
        self.doors = Doors(records, other, clock, holds, fresh)
        self.written: list[str] = []

    def teardown(self) -> None:
        if hasattr(self, "doors"):
            self.doors.records.close()
            self.doors.other.close()

    def by(self, another: bool) -> Records:
        return self.doors.other if another else self.doors.records

    @rule(another=st.booleans(), visit=st.sampled_from(["A2/2032-07-08", "A1/2032-05-03"]), nr=st.integers(0, 99))
    def write(self, another: bool, visit: str, nr: int) -> None:
        records = self.by(another)
        found = records.visit(visit)
        kind, text = ("addendum", "says") if found.sealed else ("note", "text")
        content = {text: f"Said {nr}.", "time": self.doors.clock.time.isoformat(timespec="seconds")}
        made = records.append(kind, content, visit=found.id, who="M. Falk")
        if kind == "note":
            self.written.append(made.id)

    @rule(another=st.booleans())
    def take_back(self, another: bool) -> None:
        if self.written:
            self.by(another).undo(self.written.pop(), who="M. Falk")

    @rule(another=st.booleans(), degrees=st.integers(700, 900))
    def read_again(self, another: bool, degrees: int) -> None:
        records = self.by(another)
        content = {
            "quantity": "exhaust_temperature", "place": "stack", "state": "as_found", "as_typed": f"{degrees} K",
            "value": float(degrees), "time": self.doors.clock.time.isoformat(timespec="seconds"),
        }  # fmt: skip
        made = records.append("reading", content, visit=records.visit("A2/2032-07-08").id, who="M. Falk")
        self.written.append(made.id)

    @rule(minutes=st.sampled_from([1, 61, 24 * 60]))
    def wait(self, minutes: int) -> None:
        self.doors.clock.time += timedelta(minutes=minutes)

    @rule(units=st.sampled_from(["site", "si", "us", "bar"]), light=st.sampled_from(["", "night", "sun"]))
    def change_settings(self, units: str, light: str) -> None:
        self.doors.records.home.change(units=units, light=light)

    @rule(language=st.sampled_from(["en", "de", ""]), column=st.sampled_from(["as_found", "as_left"]))
    def another_reader(self, language: str, column: str) -> None:
        self.doors.cookies = {"language": language, "column": column}

    @rule(name=st.text("abc", min_size=1, max_size=3))
    def another_engine(self, name: str) -> None:
        self.doors.records.append("engine", {"tag": f"T{name}", "family": "K2"}, who="M. Falk")

    @rule(page=st.sampled_from(PAGES))
    def look(self, page: str) -> None:
        """Ask twice: the second time it is held."""
        made = self.doors.ask(self.doors.fresh, page)
        assert self.doors.ask(self.doors.holds, page) == made
        assert self.doors.ask(self.doors.holds, page) == made

    @invariant()
    def the_same_as_afresh(self) -> None:
        if hasattr(self, "doors"):
            page = f"{OPEN}/log"
            assert self.doors.ask(self.doors.holds, page) == self.doors.ask(self.doors.fresh, page)


def test_any_history_of_changes_shows_the_pages_made_afresh(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from hypothesis.stateful import run_state_machine_as_test

    shutil.copytree(demo, tmp_path / "home")
    AnyHistory.home = tmp_path / "home"
    run_state_machine_as_test(
        AnyHistory,
        settings=settings(
            settings.default, max_examples=200 if EXPLORING else 3, stateful_step_count=20 if EXPLORING else 7,
            suppress_health_check=list(HealthCheck),
        ),
    )  # fmt: skip
