"""A visit leaves one home and comes into another whole."""

from __future__ import annotations

import csv
import io
import json

import jsonschema
import pytest

from asfound.errors import InputError, RecordError
from asfound.records.export import as_json, take_over, visit_record
from asfound.records.schema import SCHEMA_ID, schema
from asfound.records.seal import seal, verify
from asfound.records.tables_csv import TABLES, readings_csv
from asfound.records.visit import view

TIME = "2032-07-08T15:00:00Z"


@pytest.fixture
def filled(records, begin, reading):
    """A home with one visit that holds one of most kinds; return it and the visit."""
    site = records.append("site", {"name": "S", "height": 1460})
    site = records.append("site", {"name": "Site", "height": 1450}, corrects=site.id)
    engine, visit = begin(records, site=site.corrects)
    gauge = records.append("instrument", {"name": "Analyser", "specs": {"exhaust_oxygen_dry": {"absolute": 0.002}}})
    records.append("limit", {"quantity": "nox_at_reference_oxygen", "value": 8e-5, "as_typed": "80 ppm"}, engine=engine)
    first = records.append(
        "reading", reading("exhaust_oxygen_dry", 0.09, "9,0 %", place="stack", instrument=gauge.id), visit=visit
    )
    right = reading("exhaust_oxygen_dry", 0.089, "8,9 %", place="stack", instrument=gauge.id, note="=1+1")
    records.append("reading", right, corrects=first.id)
    records.append("reading", reading("exhaust_nox_dry", 150e-6, "150 ppm", place="stack"), visit=visit)
    records.append(
        "look",
        {"slot": "operator_display", "character": "kind", "states": ["dial_three_needles"], "time": TIME},
        visit=visit,
    )
    note = records.append("note", {"text": "undone", "time": TIME}, visit=visit)
    records.undo(note.id)
    digest = records.attach(b"picture", "a.png", "image/png")
    photo = {"digest": digest, "filename": "a.png", "media_type": "image/png", "size": 7, "time": TIME}
    records.append("photo", photo, visit=visit)
    return visit


def test_the_record_fits_its_published_schema(records, filled):
    """By an independent validator (jsonschema, draft 2020-12)."""
    published = schema()
    jsonschema.Draft202012Validator.check_schema(published)
    assert published["$id"] == SCHEMA_ID
    seal(records, filled)
    for computed in (True, False):
        record = json.loads(as_json(visit_record(records, filled, computed=computed, files=True)))
        jsonschema.validate(record, published)
    del record["entries"][0]["who"]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(record, published)


def test_there_and_back_is_the_same_and_twice_changes_nothing(records, filled, open_home):
    seal(records, filled)
    text = as_json(visit_record(records, filled, files=True))
    other = open_home("other")
    first = take_over(other, text)
    assert first.known == 0
    assert first.files == 1
    assert first.verification.holds
    assert first.name == "A2/2032-07-08"
    again = take_over(other, text)
    assert (again.new, again.known) == (0, first.new)
    assert other.entries(visit=filled) == records.entries(visit=filled)
    mine, theirs = view(records, filled), view(other, filled)
    assert [(one.key, one.value, one.interval) for one in mine.worked.results] == [
        (one.key, one.value, one.interval) for one in theirs.worked.results
    ]
    assert other.attachment(theirs.photos[0].content["digest"]) == b"picture"


def test_two_homes_that_exchange_both_ways_end_alike(records, filled, open_home, reading):
    other = open_home("other")
    take_over(other, as_json(visit_record(records, filled, files=True)))
    target = next(one for one in records.entries(visit=filled) if one.content.get("quantity") == "exhaust_nox_dry")
    records.append("reading", reading("exhaust_nox_dry", 151e-6, "151 ppm", place="stack"), corrects=target.id)
    other.append("reading", reading("exhaust_nox_dry", 152e-6, "152 ppm", place="stack"), corrects=target.id)
    take_over(other, as_json(visit_record(records, filled)))
    take_over(records, as_json(visit_record(other, filled)))
    assert records.entries(visit=filled) == other.entries(visit=filled)
    assert view(records, filled).conflicts == view(other, filled).conflicts
    assert len(view(records, filled).conflicts[0].between) == 2


def test_without_its_file_the_seal_says_so(records, filled, open_home):
    seal(records, filled)
    other = open_home("other")
    found = take_over(other, as_json(visit_record(records, filled, files=False)))
    assert [one.what for one in found.verification.faults] == ["file_missing"]


def test_an_altered_record_is_found_by_its_seal(records, filled, open_home):
    seal(records, filled)
    record = visit_record(records, filled, files=True)
    changed = next(one for one in record["entries"] if one["content"].get("quantity") == "exhaust_nox_dry")
    changed["content"] = {**changed["content"], "value": 100e-6}
    other = open_home("other")
    found = take_over(other, as_json(record))
    assert [(one.what, one.id) for one in found.verification.faults] == [("changed", changed["id"])]
    with pytest.raises(RecordError, match="something else"):
        take_over(records, as_json(record))
    assert verify(records, filled).holds


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda record: record["entries"][0].update(kind="colour"), "entries.0"),
        (lambda record: record["entries"][0]["content"].update(colour="red"), "colour"),
        (lambda record: record.update(form="something"), "form"),
        (lambda record: record["entries"][-1].update(visit=None), "not of the visit"),
        (lambda record: record.update(context=[]), "not whole"),
        (lambda record: record["files"][0].update(content="AAAA"), "damaged"),
    ],
)
def test_what_is_no_record_is_refused_whole(records, filled, open_home, change, says):
    record = json.loads(as_json(visit_record(records, filled, files=True)))
    change(record)
    other = open_home("other")
    with pytest.raises((InputError, RecordError), match=says):
        take_over(other, json.dumps(record))
    assert other.entries() == ()


@pytest.mark.parametrize("text", ["", "{", "[]", "[" * 100_000, '{"a": NaN}', "\x00", "null"])
def test_what_is_no_json_is_refused(records, text):
    with pytest.raises(InputError):
        take_over(records, text)


def test_tables_cannot_run_as_formulas(records, filled):
    seen = view(records, filled)
    rows = list(csv.DictReader(io.StringIO(readings_csv(seen))))
    row = next(one for one in rows if one["quantity"] == "exhaust_oxygen_dry")
    assert row["note"] == "'=1+1"
    assert row["as_typed"] == "8,9 %"
    assert float(row["value_si"]) == 0.089
    for table in TABLES.values():
        for line in csv.reader(io.StringIO(table(seen))):
            assert not any(cell[:1] in "=+@\t\r" and cell for cell in line)


def test_tables_hold_what_the_view_holds(records, filled):
    seen = view(records, filled)
    rows = list(csv.DictReader(io.StringIO(TABLES["results"](seen))))
    assert [float(one["value_si"]) for one in rows] == [one.value for one in seen.worked.results]
    looks = list(csv.DictReader(io.StringIO(TABLES["looks"](seen))))
    assert looks[0]["states"] == "dial_three_needles"


def altered(record, change):
    """Return the text of a record in which something was changed."""
    copy = json.loads(json.dumps(record))
    change(copy)
    return json.dumps(copy)


@pytest.mark.parametrize(
    ("link", "kind"), [("engine", "note"), ("visit", "engine"), ("corrects", "engine"), ("engine", "visit_opened")]
)
def test_a_link_that_cannot_mean_what_it_names_is_refused(records, filled, open_home, link, kind):
    record = visit_record(records, filled, computed=False)
    target = next(one["id"] for one in (*record["entries"], *record["context"]) if one["kind"] == kind)

    def change(copy):
        chosen = next(one for one in copy["entries"] if one["kind"] == "look")
        chosen[link] = target

    with pytest.raises(RecordError, match=r"cannot be that|is not of the visit"):
        take_over(open_home("other"), altered(record, change))
    assert open_home("other").entries() == ()


def test_a_correction_of_something_later_is_refused(records, filled, open_home):
    record = visit_record(records, filled, computed=False)

    def change(copy):
        first, second = (one for one in copy["entries"] if one["quantity_of"] == "exhaust_oxygen_dry")
        first["corrects"], second["corrects"] = second["id"], None
        for one in copy["entries"]:
            del one["quantity_of"]

    for one in record["entries"]:
        one["quantity_of"] = one["content"].get("quantity", "")
    with pytest.raises(RecordError, match="cannot be that"):
        take_over(open_home("other"), altered(record, change))


@pytest.mark.parametrize("value", [10**30, 2**60])
def test_a_whole_number_that_has_no_canonical_form_is_refused(records, filled, open_home, value):
    record = visit_record(records, filled, computed=False)

    def change(copy):
        next(one for one in copy["entries"] if one["kind"] == "reading")["content"]["value"] = value

    with pytest.raises(InputError, match="cannot be kept"):
        take_over(open_home("other"), altered(record, change))


@pytest.mark.parametrize("time", ["2032-13-45T10:00:00Z", "2032-07-08T25:00:00Z", "٢032-07-08T10:00:00Z"])
def test_a_time_that_no_calendar_has_is_refused(records, filled, open_home, time):
    record = visit_record(records, filled, computed=False)

    def change(copy):
        next(one for one in copy["entries"] if one["kind"] == "reading")["content"]["time"] = time

    with pytest.raises(InputError, match="time"):
        take_over(open_home("other"), altered(record, change))


@pytest.mark.parametrize("name", ["../../x", "/etc/passwd", "C:\\x", "a\nb"])
def test_the_name_of_a_file_leads_nowhere(records, filled, open_home, tmp_path, name):
    record = visit_record(records, filled, computed=False, files=True)

    def change(copy):
        next(one for one in copy["entries"] if one["kind"] == "photo")["content"]["filename"] = name

    other = open_home("other")
    came = take_over(other, altered(record, change))
    kept = view(other, came.visit).photos[0]
    assert kept.content["filename"] == name
    files = [one for one in (tmp_path / "other" / "files").rglob("*") if one.is_file()]
    assert [one.name for one in files] == [kept.content["digest"]]
