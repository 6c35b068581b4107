"""Pages made before somebody asks for them: the same as made afresh, only when nothing else is to be done, bounded."""

from __future__ import annotations

import json
import sqlite3
import time
from datetime import timedelta
from io import StringIO
from types import SimpleNamespace

import pytest
from starlette.testclient import TestClient

from asfound.records import home as homes
from asfound.records.kept_store import NAME, KeptStore, kept_store
from asfound.records.store import Records
from asfound.web import ahead as ahead_module
from asfound.web import ahead_process
from asfound.web.ahead import Ahead
from asfound.web.ahead_process import Process, Told, run
from asfound.web.app import create_app
from asfound.web.held_pages import BY_MINUTE, VISIT
from asfound.web.machine import on_mains
from asfound.web.work_ahead import PAGES, WHAT, WorkAhead, reader_headers

CLOSED, OPEN = "D2/2032-06-21", "A2/2032-07-08"


def browser(records: Records) -> TestClient:
    return TestClient(create_app(records, who="test", debug=True), base_url="http://localhost")


def shown(client: TestClient, visit: str, pages=PAGES) -> dict[str, str]:
    return {page: client.get(f"/engines/{visit}{page}").text for page in pages}


def worker(records: Records, **options) -> WorkAhead:
    return WorkAhead(records, who="test", still=timedelta(0), **options)


@pytest.mark.parametrize(
    ("visit", "pages"), [(CLOSED, PAGES), (OPEN, tuple(one for one in PAGES if VISIT + one not in BY_MINUTE))]
)
def test_what_was_made_ahead_is_what_is_made_afresh(home, visit, pages):
    with Records.open(home) as records:
        afresh = shown(browser(records), visit, pages)
    (home / NAME).unlink()
    with Records.open(home) as records:
        assert worker(records).make(records.visit(visit))
    with Records.open(home) as records:
        assert shown(browser(records), visit, pages) == afresh
        assert not records.remembers(("view", records.visit(visit).id)), "nothing is worked out for it"


def test_what_is_kept_as_it_stands_is_passed_over_and_what_changed_is_made_again(home, monkeypatch):
    with Records.open(home) as records:
        work = worker(records)
        visit = records.visit(CLOSED)
        assert work.make(visit)
        assert not work.make(visit)
        note = {"text": "Look at it", "time": records.clock.now().isoformat(), "state": "as_found"}
        records.append("note", note, visit=records.visit(OPEN).id)  # of another engine
        assert not work.make(visit)
        records.append("failure", {"date": "2032-06-01", "text": "Leak"}, engine=visit.engine)
        work.still = timedelta(minutes=15)
        assert not work.make(visit), "somebody is at work on that engine"
        work.still = timedelta(0)
        assert work.make(visit)


def test_pages_of_a_closed_visit_hold_for_years(home, monkeypatch):
    with Records.open(home) as records:
        worker(records).make(records.visit(CLOSED))
        now = shown(browser(records), CLOSED)
    usual = homes.HomeClock.now
    monkeypatch.setattr(homes.HomeClock, "now", lambda self: usual(self) + timedelta(days=800))
    with Records.open(home) as records:
        assert not worker(records).make(records.visit(CLOSED)), "kept pages hold"
    (home / NAME).unlink()
    with Records.open(home) as records:
        assert shown(browser(records), CLOSED) == now, "and nothing of them hangs on the day"


def test_another_reader_has_pages_of_their_own(home):
    with Records.open(home) as records:
        visit = records.visit(CLOSED)
        assert worker(records).make(visit)
        assert worker(records, language="de").make(visit)
        german = TestClient(
            create_app(records, who="test"), base_url="http://localhost", headers={"accept-language": "de"}
        )
        said = german.get(f"/engines/{CLOSED}/fuel").text
        assert not records.remembers(("view", visit.id)) or 'lang="de"' in said


def test_nothing_that_lets_a_reader_in_is_handed_on():
    told = dict(reader_headers("asfound_token=secret; language=de; asfound_session=x; light=night", "de"))
    assert told[b"cookie"] == b"light=night; language=de"
    assert b"secret" not in repr(told).encode()
    assert b"cookie" not in dict(reader_headers("", ""))


def test_visits_near_to_an_address(home):
    with Records.open(home) as records:
        work = worker(records)
        known = records.visits("A3")
        assert [one.id for one in work.near(f"/engines/{known[0].name}")] == [known[0].id, known[1].id]
        assert [one.id for one in work.near(known[1].id)] == [known[1].id]
        assert work.near("/engines/NONE/2032-01-01") == work.near("/settings") == work.near("nobody") == []
        assert [one.began for one in work.order()] == sorted((one.began for one in work.order()), reverse=True)


def test_no_more_is_made_than_may_be_kept(home):
    with Records.open(home) as records:
        work, store = worker(records), kept_store(records)
        assert not work.full
        store.megabytes = lambda: 0.95 * records.settings.kept_mb
        assert work.full
        told = Told(StringIO(f"/engines/{CLOSED}\n"), work)
        while not work.over:
            time.sleep(0.01)
        work.over = False
        run_until_quiet(work, told)
        assert work.made == 0


def run_until_quiet(work: WorkAhead, told: Told) -> None:
    told.wait = lambda _seconds: False
    run(work, told, every=True)


def test_the_oldest_pages_go_where_the_file_is_too_large(tmp_path):
    store = KeptStore(tmp_path / NAME, megabytes=0.2)
    page = bytes(range(256)) * 8
    for number in range(1_600):
        store.keep_page(f"{number}", "k", page + number.to_bytes(4, "big") * 200)
    assert store.page("0", "k") is None
    assert store.page("1599", "k") is not None
    free = KeptStore(tmp_path / "other", megabytes=100)
    for number in range(1_600):
        free.keep_page(f"{number}", "k", page)
    assert free.page("0", "k") is not None


def test_a_file_that_another_program_holds_is_not_given_up(tmp_path):
    store = KeptStore(tmp_path / NAME)
    store.keep_page("a", "k", b"said")
    other = sqlite3.connect(tmp_path / NAME, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    assert store.page("a", "k") is None
    other.execute("COMMIT")
    other.close()
    assert store.page("a", "k") == b"said"


def test_the_process_makes_what_is_wished_and_ends_with_its_server(home, monkeypatch):
    monkeypatch.setattr(ahead_process, "give_way", lambda: None)
    asked = {"home": str(home), "who": "test", "cookie": "", "language": "", "all": False}
    lines = Lines(json.dumps(asked) + "\n", f"/engines/{CLOSED}\n")
    with Records.open(home) as records:
        store, visit = kept_store(records), records.visit(CLOSED)
        key = WorkAhead(records, who="test")._key(records.engine(visit.engine), visit)
        lines.until = lambda: bool(store.get(WHAT, {visit.id: key}))
        assert ahead_process.main(lines) == 0
        assert lines.until()


class Lines(StringIO):
    """What the server says; it is gone when what it wished is there."""

    def __init__(self, first: str, then: str) -> None:
        super().__init__(first)
        self.then = [then]

    def __iter__(self):
        yield from self.then
        while not self.until():
            time.sleep(0.05)


def test_the_process_is_ended(home):
    process = Process(home, "test")
    assert not process.running
    process.begin(cookie="", language="", every=False)
    process.wish([f"/engines/{CLOSED}"])
    assert process.running
    inside = process._running
    process.end()
    inside.kill()  # on a busy machine it may take long to hear that it is over
    assert not process.running
    process.wish(["nobody hears it"])


@pytest.fixture
def told(home, monkeypatch):
    """Return an `Ahead` that is idle, and what its process was told."""
    with Records.open(home) as records:
        app = create_app(records, who="test")
        made = Ahead(app.state.house, lambda: None)
        said: list[object] = []
        made._process = SimpleNamespace(
            running=False, begin=lambda **options: said.append(options), wish=lambda some: said.append(list(some)),
            end=lambda: None,
        )  # fmt: skip
        made._last = time.monotonic() - 1_000
        yield made, said, records


def scope(path: str, **headers: str) -> dict[str, object]:
    known = {"accept": "text/html", **headers}
    return {
        "type": "http", "method": "GET", "path": path,
        "headers": [(name.replace("_", "-").encode(), value.encode()) for name, value in known.items()],
    }  # fmt: skip


def test_what_was_looked_at_is_wished_for_its_reader_and_all_once(told):
    made, said, _records = told
    made.saw(scope(f"/engines/{CLOSED}/fuel", cookie="language=de", accept_language="de"))
    made.saw(scope("/settings", cookie="language=de", accept_language="de"))
    made.saw({**scope("/engines/N1/2032-01-01"), "method": "POST"})
    made._make_pages()
    assert said == [{"cookie": "language=de", "language": "de", "every": True}, [f"/engines/{CLOSED}"]]
    said.clear()
    made._make_pages()
    assert said == []


def test_nothing_is_made_while_somebody_asks_or_where_it_is_not_wanted(told, monkeypatch):
    made, said, records = told
    made.saw(scope(f"/engines/{CLOSED}"))
    made._last = time.monotonic()
    made._make_pages()
    made._last = time.monotonic() - 1_000
    records.home.change(ahead="off")
    made._make_pages()
    monkeypatch.setattr(ahead_module, "may_keep", lambda _records: False)
    records.home.change(ahead="all")
    made._make_pages()
    assert said == []


def test_only_what_was_looked_at_where_that_is_chosen(told):
    made, said, records = told
    records.home.change(ahead="shown")
    made._make_pages()
    assert said == []
    made.saw(scope(f"/engines/{CLOSED}"))
    made._make_pages()
    assert said[0]["every"] is False


def test_battery_and_mains(tmp_path):
    assert on_mains(tmp_path / "none")
    for name, words in {
        "BAT0": {"type": "Battery", "status": "Discharging"},
        "mouse": {"type": "Battery", "status": "Discharging", "scope": "Device"},
        "AC": {"type": "Mains", "online": "0"},
    }.items():
        (tmp_path / name).mkdir()
        for word, said in words.items():
            (tmp_path / name / word).write_text(said + "\n")
    assert not on_mains(tmp_path)
    (tmp_path / "AC" / "online").write_text("1\n")
    assert on_mains(tmp_path)
    (tmp_path / "AC" / "online").write_text("0\n")
    (tmp_path / "BAT0" / "status").write_text("Full\n")
    assert on_mains(tmp_path)
