"""A document for each reader: what the trade's list of readers asks is in it, what is missing is said, nothing made up.

What each reader needs is the table of readers of this project (common practice, no source).
"""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar
from pypdf import PdfReader

from asfound.errors import InputError, RecordError
from asfound.quantities.display import chance
from asfound.quantities.words import Reading, Result
from asfound.records.demo import make_demo_home
from asfound.records.export import visit_record
from asfound.records.office_hours import keep_time, minutes_typed
from asfound.records.store import Records
from asfound.records.visit import VisitView, view
from asfound.report.content import report_content
from asfound.report.content_due_data import due_data
from asfound.report.readers import NAMES, document, reader, readers
from asfound.report.readers.blocks import bare
from asfound.report.readers.files import FORMS, forms_of, write
from asfound.report.readers.making import Made
from asfound.report.readers.spoken import spoken
from asfound.report.typeset import visit_report
from asfound.report.wording import say

from . import story

VISITS = (
    "A1/2032-05-03", "A2/2032-07-08", "A3/2032-06-28", "N1/2032-02-12", "N2/2032-02-12", "D1/2032-06-20",
    "D2/2032-06-21",
)  # fmt: skip
PAPER = tuple(name for name in NAMES if name != "next_engineer")
US = ("A1", "A2", "A3")


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Records]:
    folder = tmp_path_factory.mktemp("readers") / "demo"
    make_demo_home(folder)
    with Records.open(folder) as opened:
        yield opened


@pytest.fixture(scope="module")
def made(records: Records) -> dict[tuple[str, str], Made]:
    """Return every document of the newest visit of each engine, by tag and reader."""
    seen = {name[:2]: view(records, name) for name in VISITS}
    return {(tag, name): document(records, one, name) for tag, one in seen.items() for name in NAMES}


@pytest.fixture(scope="module")
def sheets(made: dict[tuple[str, str], Made]) -> dict[tuple[str, str], bytes]:
    return {key: write(one, "pdf") for key, one in made.items() if key[1] in PAPER}


def words(pdf: bytes) -> str:
    pages = (page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    return " ".join(" ".join(pages).replace("\u200b", "").split())


def texts(value: Any, key: str = "") -> Iterator[str]:
    if isinstance(value, str):
        if not key.endswith("svg") and key not in ("digest", "whole", "program"):
            yield value
    elif isinstance(value, dict):
        for name, one in value.items():
            yield from texts(one, str(name))
    elif isinstance(value, (list, tuple)):
        for one in value:
            yield from texts(one, key)
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for one in dataclasses.fields(value):
            yield from texts(getattr(value, one.name), one.name)


# ---------------------------------------------------------------------- every document


@pytest.mark.parametrize("name", PAPER)
def test_each_sheet_carries_what_every_document_carries(
    made: dict[tuple[str, str], Made], sheets: dict[tuple[str, str], bytes], name: str
) -> None:
    for tag in (one[:2] for one in VISITS):
        one, said = made[tag, name], words(sheets[tag, name])
        seal = one.ground.view.seal
        assert one.content["tag"] in said
        assert "As found" in said
        assert "As left" in said
        assert "Advice:" in said
        assert "come first" in said
        assert str(one.ground.view.visit.content["people"][0]) in said
        assert (seal.content["digest"][:4] in said) if seal else ("Not sealed" in said)
        for lack in one.lacks:
            assert "".join(lack.what[:40].split()) in "".join(said.split()), lack.what


@pytest.mark.parametrize("name", [one.name for one in readers().values() if one.sheet in ("page", "half")])
def test_what_is_meant_to_be_one_page_is_one(sheets: dict[tuple[str, str], bytes], name: str) -> None:
    for tag in (one[:2] for one in VISITS):
        assert len(PdfReader(io.BytesIO(sheets[tag, name])).pages) == 1, tag


@pytest.mark.parametrize("tag", [one[:2] for one in VISITS])
def test_no_word_stands_over_the_edge(sheets: dict[tuple[str, str], bytes], tag: str, tmp_path: Path) -> None:
    """Margins of all sheets: 17 and 15 mm, and nothing below the foot."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed")
    for name in PAPER:
        inside(sheets[tag, name], tmp_path / f"{name}.pdf")


def inside(pdf: bytes, file: Path) -> None:
    file.write_bytes(pdf)
    told = subprocess.run(["pdftotext", "-bbox", str(file), "-"], check=True, capture_output=True, text=True).stdout
    wide, high = (float(one) for one in re.search(r'<page width="([\d.]+)" height="([\d.]+)"', told).groups())  # type: ignore[union-attr]
    mm = 72 / 25.4
    boxes = [
        tuple(float(one) for one in found)
        for found in re.findall(r'<word xMin="(-?[\d.]+)" yMin="[-\d.]+" xMax="([\d.]+)" yMax="([\d.]+)"', told)
    ]
    assert len(boxes) > 20
    assert min(one[0] for one in boxes) >= 17 * mm - 1, file.name
    assert max(one[1] for one in boxes) <= wide - 15 * mm + 1, file.name
    assert max(one[2] for one in boxes) <= high - 4 * mm, file.name


def test_units_are_those_of_the_site(made: dict[tuple[str, str], Made]) -> None:
    for tag in US:
        assert "hp" in " ".join(texts(made[tag, "engineering"].content))
    assert " kW" in " ".join(texts(made["N1", "engineering"].content))
    assert " hp" not in " ".join(texts(made["N1", "engineering"].content))
    view_of = made["A2", "compliance"].ground
    si = document(view_of.records, view_of.view, "compliance", system="si")
    assert "g/kWh" in " ".join(texts(si.content))
    assert "g/kWh" not in " ".join(texts(made["A2", "compliance"].content))


def test_a_sealed_visit_gives_the_same_document_again(records: Records, made: dict[tuple[str, str], Made]) -> None:
    for tag in ("A1", "D2"):
        seen = view(records, next(one for one in VISITS if one.startswith(tag)))
        for name in NAMES:
            again = document(records, seen, name)
            assert again.digest == made[tag, name].digest, name
            for form in forms_of(again.reader):
                if form.name in ("text", "csv", "calendar"):
                    assert write(again, form.name) == write(made[tag, name], form.name)
    for name in ("parts", "accountant"):
        assert write(made["A1", name], "pdf") == write(document(records, seen_of(records, "A1"), name), "pdf")


def seen_of(records: Records, tag: str) -> VisitView:
    return view(records, next(one for one in VISITS if one.startswith(tag)))


def test_what_comes_after_the_seal_changes_no_document(tmp_path: Path) -> None:
    """A failure, an upgrade that is chosen and a new visit come later; hours for the office may still come."""
    folder = tmp_path / "demo"
    make_demo_home(folder)
    with Records.open(folder) as records:
        seen = seen_of(records, "A1")
        before = {name: document(records, seen, name).digest for name in NAMES}
        engine = seen.engine.id
        records.append("failure", {"date": "2032-07-05", "text": "Knocked out."}, engine=engine, who="T")
        records.append("upgrade_plan", {"date": "2032-07-05", "target": "short"}, engine=engine, who="T")
        records.append("visit_opened", {"began": "2032-07-08T08:00:00-06:00"}, engine=engine, who="T")
        seen = seen_of(records, "A1")
        assert {name: document(records, seen, name).digest for name in NAMES} == before
        keep_time(records, seen, "travel", "1 h", who="T")
        after = {name: document(records, seen_of(records, "A1"), name).digest for name in NAMES}
        assert [name for name in NAMES if after[name] != before[name]] == ["office"]


NUMBER = re.compile(r"(?<![\w.,])\d[\d,]*(?:\.\d+)?")
NOT_OF_THE_RECORD = {
    "14224", "2016", "106", "95", "100", "90", "39",  # norms; the coverage that is named
    "1,000", "999",  # chances in words
}  # fmt: skip
COUNTED = 60
"""Up to here a number may be a count of rows of the document itself."""


def numbers(said: str) -> set[str]:
    return set(NUMBER.findall(said))


@pytest.mark.parametrize("tag", [one[:2] for one in VISITS])
def test_no_document_has_a_number_that_the_record_has_not(made: dict[tuple[str, str], Made], tag: str) -> None:
    """Everything told elsewhere of the same record is the pool: entries, results, upkeep, study, chances, cautions."""
    ground = made[tag, "operator"].ground
    seen, found = ground.view, ground.view.identification
    pool = [
        json.dumps(visit_record(ground.records, seen.id), ensure_ascii=False, default=str),
        json.dumps(due_data(seen.due), default=str),
        json.dumps([dict(one) for one in (*ground.failures, *ground.orders)], default=str),
        json.dumps(dict(seen.engine.content), default=str),
        *texts(report_content(seen, proof=False)), *texts(ground.upgrade), *texts(ground.due),
    ]  # fmt: skip
    taken: tuple[Reading | Result, ...] = (*seen.worked.readings, *seen.worked.results)
    for number in taken:
        pool += dataclasses.astuple(say(number, ground.system))
    if found is not None:
        chances = [each.probability for each in found.builds] + [each.probability for each in found.places]
        chances += [each.probability for each in found.follows.spares]
        chances += [each.probability for one in found.places for each in one.variants]
        pool += [chance(p) for one in chances for p in (one, 1.0 - one)]
        pool += list(texts(found))
    known = numbers(" ".join(pool)) | NOT_OF_THE_RECORD
    plain = {one.replace(",", "") for one in known}
    times = {str(n) for n in range(COUNTED + 1)}
    for name in NAMES:
        content = {key: one for key, one in bare(made[tag, name].content).items() if key not in ("cautions", "date")}
        told = " ".join(texts(content))
        told = re.sub(
            r"\b\d+ h\b(?: \d+ min\b)?|\b\d+ min\b|\d+:\d+", " ", told
        )  # minutes of the record, said as hours
        made_up = {
            one for one in numbers(told) if one not in known and one.replace(",", "") not in plain and one not in times
        }
        assert not made_up, (name, made_up)


# ---------------------------------------------------------------------- each reader


@pytest.mark.parametrize("tag", [one[:2] for one in VISITS])
def test_the_operator_hears_whether_it_may_run(made: dict[tuple[str, str], Made], tag: str) -> None:
    said = write(made[tag, "operator"], "text").decode()
    assert re.match(rf"{tag} (may run on|must not run on|was left|was not judged)", said)
    for word in ("Watch.", "Leave alone.", "Done today.", "call", "This is advice."):
        assert word in said
    assert not set("%°/±−–<>=_#()") & set(said)
    assert len(said.split()) < 260  # two minutes at the pace of a reader


def test_units_are_spelled_out_to_be_read_aloud() -> None:
    assert spoken("left at 31.2 psia (30.1 to 32.3)") == "left at 31.2 p s i absolute, 30.1 to 32.3."
    assert spoken("CO 442 mg/m3(n) at 5 % O2, −3 °F") == (
        "CO 442 milligrams per cubic metre at 5 per cent O2, minus 3 degrees Fahrenheit."
    )


@pytest.mark.parametrize("tag", [one[:2] for one in VISITS])
def test_the_site_manager_reads_dates_downtime_and_the_next_stop(
    made: dict[tuple[str, str], Made], sheets: dict[tuple[str, str], bytes], tag: str
) -> None:
    said, one = words(sheets[tag, "site_manager"]), made[tag, "site_manager"]
    for word in ("Dates", "Cost and downtime", "On this visit", "The price of parts and work"):
        assert word in said
    if one.ground.due.stops:
        assert "Next stop" in said
        assert "Stop 1" in said
        assert f"{one.ground.view.due.stops.stops[0].day.year}" in said  # type: ignore[union-attr]
    for point in one.ground.view.open_points:
        if point.content.get("due") and not point.content.get("done"):
            assert str(point.content["says"])[:30] in said


@pytest.mark.parametrize("tag", [one[:2] for one in VISITS])
def test_compliance_gets_each_value_with_method_load_averaging_and_who_signs(
    made: dict[tuple[str, str], Made], sheets: dict[tuple[str, str], bytes], tag: str
) -> None:
    one, said = made[tag, "compliance"], words(sheets[tag, "compliance"])
    for word in ("Values against limits", "Deviations", "for the operator", "for compliance"):
        assert word in said
    for state in one.ground.view.limit_states:
        assert state.limit.as_typed.replace(" ", "") in said.replace(" ", "")
        assert state.limit.basis in said
    rows = list(csv.DictReader(io.StringIO(write(one, "csv").decode("utf-8-sig"))))
    entries = {each.id: each for each in one.ground.view.entries_all}
    under = [row for row in rows if row["row"] == "reading"]
    values = [row for row in rows if row["row"] == "value"]
    assert all(row["method"] and row["limit"] and row["low_95"] for row in values)
    for row in under:
        if row["entry"]:
            assert float(row["value_si"]) == pytest.approx(_of(one, row["entry"]))
            assert entries[row["entry"]].who == row["who"]
            if one.ground.view.seal:
                assert row["entry_sha256"] in str(one.ground.view.seal.content["entries"])
    assert {row["value_key"] for row in under} == {row["value_key"] for row in values}
    fact = json.loads(write(one, "json"))["facts"]["limits"]
    assert len(fact) == len(one.ground.view.limit_states)


def _of(one: Made, entry: str) -> float:
    return next(each.value for each in one.ground.view.worked.readings if each.entry == entry)


def test_the_analyser_out_of_calibration_is_a_deviation(tmp_path: Path) -> None:
    records = story.open_home(tmp_path)
    engine, visit = story.begin(records)
    thing = records.append("instrument", {"name": "Old analyser", "calibrated": "2030-01-01", "interval_months": 12})
    for name, typed, value in (("exhaust_oxygen_dry", "8.9 %", 0.089), ("exhaust_nox_dry", "151 ppm", 151e-6)):
        story.reading(records, visit, name, "stack", "as_found", "09:52", typed, value, 0.001, instrument=thing.id)
    records.append(
        "limit",
        {"quantity": "exhaust_nox_dry", "value": 100e-6, "as_typed": "100 ppm", "text": "permit 7"},
        engine=engine,
    )
    told = " ".join(texts(document(records, view(records, visit), "compliance").content))
    assert "its calibration ran out on 1 January 2031" in told
    assert "overdue on the day" in told
    assert "averaging time and basis" in told
    assert "nobody noted it" in told


@pytest.mark.parametrize("tag", [one[:2] for one in VISITS])
def test_reliability_gets_codes_with_their_meaning_and_what_is_open(
    made: dict[tuple[str, str], Made], sheets: dict[tuple[str, str], bytes], tag: str
) -> None:
    one = made[tag, "reliability"]
    rows = list(csv.DictReader(io.StringIO(write(one, "csv").decode("utf-8-sig"))))
    assert len(rows) == len(one.ground.failures)
    for row, kept in zip(rows, one.ground.failures, strict=True):
        assert row["mode"] == kept.get("mode", "")
        assert bool(row["mode_means"]) == bool(row["mode"])
        assert ("advise:cause" in row["open"].split()) == (not kept.get("cause"))
    said = words(sheets[tag, "reliability"])
    assert "ISO 14224" in said
    assert "Running hours on the day" in said
    assert not rows or rows[0]["mode"] in said


@pytest.mark.parametrize("tag", [one[:2] for one in VISITS])
def test_the_parts_desk_gets_what_fits_this_build_and_what_does_not(
    made: dict[tuple[str, str], Made], sheets: dict[tuple[str, str], bytes], tag: str
) -> None:
    one, said = made[tag, "parts"], words(sheets[tag, "parts"])
    found = one.ground.view.identification
    assert found is not None
    rows = list(csv.DictReader(io.StringIO(write(one, "csv").decode("utf-8-sig"))))
    stops = one.ground.view.due.stops
    needed = [part for stop in (stops.stops if stops else ()) for part in stop.parts]
    assert [row["part"] for row in rows if row["kind"] == "for a stop"] == [part.what for part in needed]
    for spare in found.follows.spares:
        row = next(row for row in rows if row["part_id"] == spare.id)
        assert float(row["certainty"]) == pytest.approx(spare.probability)
        if spare.fits and found.weighed:
            assert "".join(spare.title.split()) in "".join(said.split())
    for rule in found.follows.interchange:
        if rule.concerns:
            assert "".join(rule.part.split()) in "".join(said.split())
    if tag == "D2":
        assert "no catalogue knows this build" in said


def test_the_parts_desk_of_a2_is_warned_of_the_store_and_sees_the_photo(
    sheets: dict[tuple[str, str], bytes],
) -> None:
    said = words(sheets["A2", "parts"])
    assert "In the store and not for this engine" in said
    assert "D harness for cable tails" in said
    assert "M.2?..6" in said
    images = [image for page in PdfReader(io.BytesIO(sheets["A2", "parts"])).pages for image in page.images]
    assert len(images) >= 2


@pytest.mark.parametrize("tag", [one[:2] for one in VISITS])
def test_planning_gets_tasks_length_isolation_and_a_calendar(
    made: dict[tuple[str, str], Made], sheets: dict[tuple[str, str], bytes], tag: str
) -> None:
    one, said = made[tag, "planning"], words(sheets[tag, "planning"])
    due = one.ground.view.due
    rows = list(csv.DictReader(io.StringIO(write(one, "csv").decode("utf-8-sig"))))
    assert [row["id"] for row in rows if row["kind"] == "task"] == [task.id for task in due.tasks]
    assert all(row["isolation"] for row in rows)
    calendar = Calendar.from_ical(write(one, "calendar"))
    events = [part for part in calendar.walk() if part.name == "VEVENT"]
    dated = [task for task in due.tasks if task.day] + list(due.stops.stops if due.stops else ())
    assert len(events) == len(dated)
    for stop in one.ground.due.stops:
        assert f"Stop {stop.number}:" in said
        for title, _, _ in stop.tasks:
            assert title in said
    assert "Isolation" in said


def test_no_table_stands_without_a_row_and_no_head_without_what_it_heads(made: dict[tuple[str, str], Made]) -> None:
    for (tag, name), one in made.items():
        blocks = one.content["blocks"]
        assert all(block["rows"] for block in blocks if block["kind"] in ("rows", "lines", "pairs")), (tag, name)
        kinds = [block["kind"] for block in blocks]
        assert ("head", "head") not in {*pairwise(kinds)}, (tag, name)
        assert not kinds or kinds[-1] != "head", (tag, name)


@pytest.mark.parametrize("tag", [one[:2] for one in VISITS])
def test_engineering_gets_the_build_the_gap_and_the_envelopes(
    made: dict[tuple[str, str], Made], sheets: dict[tuple[str, str], bytes], tag: str
) -> None:
    one, said = made[tag, "engineering"], words(sheets[tag, "engineering"])
    view_of = one.ground.view
    found = view_of.identification
    assert found is not None
    for place in found.places:
        assert "".join(place.title.split()) in "".join(said.split())
    assert ("what an earlier one saw counts on" in said) == (not view_of.looks)
    assert "the build was not looked at" not in said, "every engine of the demo was looked at, on this visit or before"
    assert "Load" in said
    assert ("Gap to" in said) == (one.ground.upgrade.chosen is not None)
    assert one.ground.upgrade.chosen is not None or "The gap to a target" in said
    assert len(list(csv.DictReader(io.StringIO(write(one, "csv").decode("utf-8-sig"))))) == len(found.places)


def test_the_office_gets_hours_and_is_told_that_travel_is_missing(made: dict[tuple[str, str], Made]) -> None:
    one = made["A3", "office"]
    rows = list(csv.DictReader(io.StringIO(write(one, "csv").decode("utf-8-sig"))))
    assert [(row["from"], row["until"], float(row["minutes"])) for row in rows] == [("07:20", "13:10", 350.0)]
    assert any("Travel" in lack.what for lack in one.lacks)


def test_travel_is_typed_after_the_visit_was_closed(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    make_demo_home(folder)
    with Records.open(folder) as records:
        seen = seen_of(records, "A3")
        assert seen.seal is not None
        keep_time(records, seen, "travel", "2 h 30 min", who="S. Ondry", warranty="asked", note="over the pass")
        one = document(records, seen_of(records, "A3"), "office")
        told = " ".join(texts(one.content))
        assert "2 h 30 min" in told
        assert "asked for" in told
        assert "over the pass" in told
        assert not any("Travel" in lack.what or "warranty" in lack.what for lack in one.lacks)
        keep_time(records, seen, "on_site", "4 h", who="S. Ondry")
        rows = document(records, seen_of(records, "A3"), "office").document.data
        assert rows is not None
        assert [row[5] for row in rows.rows] == ["Travel", "On site"]


@pytest.mark.parametrize("typed", ["", "two hours", "25 h", "-1 h", "0 min", "2 h 90 km", "1e9 min"])
def test_a_length_that_is_none_is_refused(typed: str) -> None:
    with pytest.raises(InputError):
        minutes_typed(typed)


@pytest.mark.parametrize(
    ("typed", "minutes"), [("2 h 30", 150), ("2:30", 150), ("2,5 h", 150), ("45 min", 45), ("8h", 480)]
)
def test_a_length_is_read_as_people_write_it(typed: str, minutes: float) -> None:
    assert minutes_typed(typed) == minutes


def test_the_next_engineer_gets_negative_findings_and_the_whole_record(made: dict[tuple[str, str], Made]) -> None:
    one = made["A3", "next_engineer"]
    told = " ".join(texts(one.content))
    assert "Detonation (knock) indicated or heard: looked, not there." in told
    assert "Swap coil with a neighbour" in told
    assert "Look at the catalyst at the next stop" in told
    said = words(write(one, "pdf"))
    for part in ("For the next engineer", "Left undone", "Tried, and what came of it", "Doubted", "Readings", "Results",
                 "Findings and the day", "Limits of use"):  # fmt: skip
        assert part in said


@pytest.mark.parametrize("tag", [one[:2] for one in VISITS])
def test_the_next_engineer_of_every_engine_is_told_what_was_not_there(
    made: dict[tuple[str, str], Made], tag: str
) -> None:
    one = made[tag, "next_engineer"]
    told = " ".join(texts(bare(one.content)))
    for look in one.ground.view.looks:
        if look.answer == "not_there" and look.note:
            assert look.note in told
    for point in one.ground.view.open_points:
        assert point.content.get("done") or str(point.content["says"]) in told


def test_the_accountant_of_a1_gets_every_assumption_with_its_range(
    made: dict[tuple[str, str], Made], sheets: dict[tuple[str, str], bytes]
) -> None:
    one, said = made["A1", "accountant"], words(sheets["A1", "accountant"])
    case = one.ground.upgrade.case
    assert case is not None
    for assumption in case.assumptions:
        assert assumption.title in said
        assert assumption.best in said
        assert assumption.range in said
    for _, value in case.figures:
        assert value in said
    assert "Risk on the record" in said


def test_the_accountant_without_a_study_is_told_so(sheets: dict[tuple[str, str], bytes]) -> None:
    said = words(sheets["N1", "accountant"])
    assert "no case was worked out" in said
    assert "Payback: there is no study with money for this engine" in said


# ---------------------------------------------------------------------- odd records


@pytest.fixture(scope="module")
def odd(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Records, str]]:
    """Return an engine with nothing but a visit, and one whose words try everything, with photos that are none."""
    found = {}
    for name in ("empty", "hostile"):
        folder = tmp_path_factory.mktemp(name)
        seen = getattr(story, name)(folder)
        found[name] = (Records.open(folder), seen.id)
    records, visit = found["hostile"]
    engine = view(records, visit).engine.id
    for media, content in (("image/png", b"no picture"), ("image/jpeg", b"\xff\xd8\xff broken")):
        digest = records.attach(content, story.HOSTILE[1][:150], media)
        photo = {
            "digest": digest,
            "filename": "=1+1|cmd.png",
            "media_type": media,
            "size": len(content),
            "time": "2032-07-08T11:00:00-06:00",
            "caption": story.HOSTILE[0],
            "place": "speed_controller",
        }
        records.append("photo", photo, visit=visit)
    for text in story.HOSTILE:
        records.append("failure", {"date": "2032-07-01", "text": text, "item": text[:120]}, engine=engine)
        records.append("work_order", {"number": text[:400], "date": "2032-07-01", "text": text}, engine=engine)
    keep_time(records, view(records, visit), "other", "1 h", who="T", person='=HYPERLINK("x")', note=story.HOSTILE[3])
    return found


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("case", ["empty", "hostile"])
def test_odd_records_give_every_form(odd: dict[str, tuple[Records, str]], case: str, name: str, tmp_path: Path) -> None:
    records, visit = odd[case]
    one = document(records, view(records, visit), name)
    for form in forms_of(one.reader):
        content = write(one, form.name)
        assert content
        if form.name == "csv":
            cells = [cell for row in csv.reader(io.StringIO(content.decode("utf-8-sig"))) for cell in row]
            assert not any(cell.startswith(("=", "+", "@", "\t")) for cell in cells)
        if form.name == "text":
            assert "\x07" not in content.decode()
            assert "\u202e" not in content.decode()
        if form.name == "pdf" and name != "next_engineer" and shutil.which("pdftotext"):
            inside(content, tmp_path / "one.pdf")


def test_an_empty_visit_says_what_is_missing_and_makes_nothing_up(odd: dict[str, tuple[Records, str]]) -> None:
    records, visit = odd["empty"]
    seen = view(records, visit)
    assert document(records, seen, "operator").document.headline == "X9 was not judged."
    for name in NAMES:
        one = document(records, seen, name)
        assert one.lacks, name
        assert "nothing was taken" in " ".join(texts(one.content))


def test_the_report_of_a2_is_read_in_twelve_sheets_and_the_full_record_has_more(records: Records) -> None:
    seen = seen_of(records, "A2")
    read = PdfReader(io.BytesIO(visit_report(seen, full=False)))
    assert len(read.pages) <= 12
    said = " ".join(" ".join(page.extract_text() for page in read.pages).split())
    for part in ("Fuel gas", "Load", "Exhaust", "Cylinders", "Do the readings agree?", "What if", "Results", "Readings",
                 "What is fitted", "All places", "Due", "Findings and the day", "Cautions", "Sources"):  # fmt: skip
        assert part in said, part
    assert "How it came to be" not in said


def test_a_reader_that_is_none_and_a_form_that_is_none_are_named() -> None:
    with pytest.raises(InputError, match="site_manager"):
        reader("boss")
    assert reader("Site-manager").name == "site_manager"
    assert set(NAMES) == set(readers())
    assert [form.name for form in forms_of(reader("operator"))] == ["pdf", "text", "json"]
    assert set(FORMS) == {"pdf", "text", "csv", "json", "calendar"}


def test_what_needs_the_record_says_so_without_it(records: Records) -> None:
    seen = seen_of(records, "A2")
    assert document(None, seen, "operator").document.headline
    with pytest.raises(RecordError):
        document(None, seen, "office")
