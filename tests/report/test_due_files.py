"""Due list as table and calendar: no formulas, RFC 5545 by another reader, the same UID at every export."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from icalendar import Calendar

from asfound.records.demo import make_demo_home
from asfound.records.store import Records
from asfound.records.upkeep_files import calendar_of
from asfound.records.upkeep_of_engine import fleet, upkeep_of
from asfound.records.upkeep_typed import keep_typed
from asfound.report.content_due import due_shown
from asfound.report.due_files import COLUMNS, due_calendar, due_csv
from asfound.report.typeset import stop_sheets


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[Records]:
    with Records.open(make_demo_home(tmp_path / "demo").folder) as opened:
        yield opened


def test_calendar_keeps_the_rules_of_rfc_5545(demo: Records) -> None:
    """RFC 5545: 3.1 lines end in CRLF and are folded at 75 octets; 3.6 PRODID and VERSION; 3.6.1 UID, DTSTAMP."""
    content = due_calendar(calendar_of(demo, demo.engines()))
    lines = content.split(b"\r\n")
    assert lines[-1] == b""
    assert b"\n" not in content.replace(b"\r\n", b"")
    assert max(len(line) for line in lines) <= 75
    assert lines[0] == b"BEGIN:VCALENDAR"
    assert b"VERSION:2.0" in lines
    assert any(line.startswith(b"PRODID:") for line in lines)
    events = Calendar.from_ical(content).walk("VEVENT")
    assert len(events) > 70
    uids = [str(one["UID"]) for one in events]
    assert len(set(uids)) == len(uids)
    for one in events:
        assert one["DTSTART"].params["VALUE"] == "DATE"
        assert one.decoded("DTEND") - one.decoded("DTSTART") == timedelta(days=1)
        assert one["DTSTAMP"].to_ical().endswith(b"Z")
        assert one.decoded("SEQUENCE") > 0
        if ".stop." not in str(one["UID"]):
            assert "Window: " in str(one["DESCRIPTION"])


def test_the_same_record_gives_the_same_file_and_an_entry_moves_it(demo: Records) -> None:
    engine = demo.engine("A2")
    before = due_calendar(calendar_of(demo, [engine]))
    assert due_calendar(calendar_of(demo, [engine])) == before
    now = upkeep_of(demo, engine)
    assert now.hours is not None
    typed = {"task": "oil_change", "hours": f"{now.hours.value:.0f}"}
    keep_typed(demo, engine, "task_done", typed, who="tester")
    after = due_calendar(calendar_of(demo, [engine]))
    old = {str(one["UID"]): one for one in Calendar.from_ical(before).walk("VEVENT")}
    new = {str(one["UID"]): one for one in Calendar.from_ical(after).walk("VEVENT")}
    uid = f"{engine.id}.oil_change@asfound"
    assert new[uid].decoded("DTSTART") > old[uid].decoded("DTSTART")
    assert new[uid].decoded("SEQUENCE") > old[uid].decoded("SEQUENCE")


def test_tasks_can_be_ticked_off(demo: Records) -> None:
    """RFC 5545 3.8.2.3: DUE is later than DTSTART and of its kind."""
    content = due_calendar(calendar_of(demo, [demo.engine("D1")]), kind="todo")
    todos = Calendar.from_ical(content).walk("VTODO")
    assert len(todos) > 10
    assert all(one.decoded("DUE") > one.decoded("DTSTART") for one in todos)


def test_the_table_has_a_row_for_each_task_and_runs_no_formula(demo: Records) -> None:
    engine = demo.engine("A1")
    typed = {"task": "plugs", "hours": "500", "source": "=HYPERLINK(1)", "why": "@x"}
    keep_typed(demo, engine, "upkeep_plan", typed, who="tester")
    engines = [(one.tag, one.site.name if one.site else "", due) for one, due in fleet(demo)]
    text = due_csv(engines)
    assert text.count("\n") == text.count("\r\n")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == sum(len(due.tasks) for _, _, due in engines)
    odd = next(one for one in rows if one["engine"] == "A1" and one["task"] == "plugs")
    assert odd["source"] == "'=HYPERLINK(1)"
    assert float(odd["hours_left"]) < 0, "a number stays a number"
    assert all(date.fromisoformat(one["due"]) for one in rows if one["due"])


def test_the_sheets_are_tagged_and_hold_what_the_page_says(demo: Records) -> None:
    from pypdf import PdfReader

    engine = demo.engine("D1")
    due = upkeep_of(demo, engine)
    made = stop_sheets(due, engine)
    assert stop_sheets(due, engine) == made
    pdf = PdfReader(io.BytesIO(made))
    assert pdf.trailer["/Root"]["/MarkInfo"]["/Marked"]
    meta = pdf.xmp_metadata
    assert meta is not None
    assert b"pdfuaid" in pdf.trailer["/Root"]["/Metadata"].get_object().get_data()
    text = re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pdf.pages))
    shown = due_shown(due)
    for one in shown.tasks:
        if one.near:
            assert one.title in text
    assert "Stop 1: now" in text
    assert "cylinder head set" in text
    assert len(pdf.pages) <= 4


def test_words_of_the_list(demo: Records) -> None:
    shown = due_shown(upkeep_of(demo, demo.engine("D1"), date(2032, 7, 8)))
    oil = shown.tasks[0]
    assert oil.title == "Oil and filter"
    assert oil.because == "by condition: acid number 4.1, limit 3.7 mg KOH/g"
    assert shown.next_says == "stop now for oil and filter"
    n1 = due_shown(upkeep_of(demo, demo.engine("N1"), date(2032, 7, 8)))
    assert n1.meter == (
        "The meter shows 41,230 h less than was run: exchanged 4 December 2030 at 41,230 h, new one from 0 h."
    )
    a2 = due_shown(upkeep_of(demo, demo.engine("A2"), date(2032, 7, 8)))
    permit = next(one for one in a2.tasks if one.id == "emission_check")
    assert permit.interval == "every 3 months (permit: no grace)"
