"""Pages of visits kept beside the record: the same as made afresh, and made afresh when what they rest on changed."""

from __future__ import annotations

import sqlite3

import pytest
from starlette.testclient import TestClient

from asfound.records import stamps
from asfound.records.demo import make_demo_home
from asfound.records.kept_store import NAME, kept_store
from asfound.records.logs_of_engine import FOLDER
from asfound.records.store import Records
from asfound.records.upkeep_of_engine import TASK_FILE
from asfound.troubleshoot.fault_names import OWN_CODES
from asfound.troubleshoot.generic import OWN_FILE
from asfound.web.app import create_app

CLOSED, OPEN = "/engines/D2/2032-06-21", "/engines/A2/2032-07-08"
PAGES = ("", "/fitted", "/exhaust", "/crosscheck", "/findings", "/due", "/report", "/log")


@pytest.fixture
def home(tmp_path):
    make_demo_home(tmp_path / "home")
    return tmp_path / "home"


def browser(records: Records) -> TestClient:
    return TestClient(create_app(records, who="test", debug=True), base_url="http://127.0.0.1")


def kept(home, table: str = "pages") -> int:
    with sqlite3.connect(home / NAME) as connection:
        return int(connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0])


def test_a_kept_page_is_the_page_made_afresh_in_another_process(home):
    with Records.open(home) as records:
        made = {page: browser(records).get(CLOSED + page).text for page in PAGES}
    assert kept(home) == len(PAGES)
    with Records.open(home) as records:
        again = browser(records)
        assert {page: again.get(CLOSED + page).text for page in PAGES} == made
        assert not records._remembered.holds(("view", records.visit("D2/2032-06-21").id)), (
            "a kept page works nothing out"
        )
    (home / NAME).unlink()
    with Records.open(home) as records:
        afresh = browser(records)
        assert {page: afresh.get(CLOSED + page).text for page in PAGES} == made


def test_pages_of_an_open_visit_are_kept_until_it_goes_on(home):
    with Records.open(home) as records:
        client, visit = browser(records), records.visit("A2/2032-07-08").id
        made = {page: client.get(OPEN + page).text for page in ("/exhaust", "/log", "/history")}
    assert kept(home) == 3
    with Records.open(home) as records:
        again = browser(records)
        assert {page: again.get(OPEN + page).text for page in made} == made
        assert not records._remembered.holds(("view", visit))
        content = {"text": "The guard of the fan was loose.", "time": "2032-07-08T12:00:00-06:00"}
        note = records.append("note", content, visit=visit, who="M. Falk")
        assert "The guard of the fan was loose." in again.get(OPEN + "/log").text
        records.undo(note.id, who="M. Falk")
        assert again.get(OPEN + "/exhaust").status_code == 200
    assert kept(home) == 3, "in place of those before"


def test_what_came_to_the_engine_since_is_on_the_page(home):
    with Records.open(home) as records:
        client = browser(records)
        before = client.get(CLOSED + "/log").text
        visit = records.visit("D2/2032-06-21")
        content = {"says": "The seal of the pump was weeping.", "time": "2032-06-22T09:00:00+02:00"}
        records.append("addendum", content, visit=visit.id, who="M. Falk")
        assert "The seal of the pump was weeping." not in before
        assert "The seal of the pump was weeping." in client.get(CLOSED + "/log").text


def test_each_reader_and_each_way_of_looking_has_its_own(home):
    with Records.open(home) as records:
        client = browser(records)
        plain = client.get(CLOSED).text
        assert 'data-light="night"' not in plain
        night = client.get(CLOSED, headers={"cookie": "light=night"}).text
        assert night != plain
        assert client.get(CLOSED, headers={"accept-language": "de"}).text != plain
        assert client.get(CLOSED).text == plain


def test_settings_and_files_of_the_home_make_it_anew(home):
    with Records.open(home) as records:
        client = browser(records)
        client.get(CLOSED + "/exhaust")
        before = kept(home)
        made = client.get(CLOSED + "/exhaust").text
        records.home.change(units="us")
        assert client.get(CLOSED + "/exhaust").text != made
        assert kept(home) >= before


def test_a_changed_byte_of_the_visit_is_not_passed_over(home):
    with Records.open(home) as records:
        visit = records.visit("D2/2032-06-21").id
        made = browser(records).get(CLOSED + "/log").text
    with sqlite3.connect(home / "record.sqlite") as connection:
        connection.execute(
            "UPDATE entries SET content = replace(content, '\"time\"', '\"tame\"') WHERE visit = ? AND kind = 'note'",
            (visit,),
        )
    with Records.open(home) as records:
        assert browser(records).get(CLOSED + "/log").text != made


def test_a_broken_file_hinders_nothing(home):
    (home / NAME).write_bytes(b"no database at all, and long enough to be taken for one" * 50)
    with Records.open(home) as records:
        client = browser(records)
        assert client.get(CLOSED).status_code == 200
        assert client.get("/").status_code == 200


def test_a_locked_home_keeps_nothing_beside_the_record(home):
    with Records.open(home) as records:
        browser(records).get(CLOSED)
    assert (home / NAME).exists()
    with Records.open(home) as records:
        records.database.key = "a key"
        assert kept_store(records) is None
        assert not (home / NAME).exists(), "what was kept before the home was locked is gone"


def test_names_of_files_are_those_of_their_rooms():
    assert (stamps.OWN_FILE, stamps.OWN_CODES, stamps.LOGS, stamps.TASKS) == (OWN_FILE, OWN_CODES, FOLDER, TASK_FILE)
