"""A whole visit on the command line: from an empty home to the sealed record and the report; and the demo's A2."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
import struct
import zlib

import pytest

from asfound.cli import CANNOT, DONE, NO

LOOKS = (
    ("nameplate", "generation=moldrevane_d", "--how", "plate", "--source", "plate"),
    ("nameplate", "rivets=new", "--how", "at_part"),
    ("speed_controller", "kind=one_rib", "--how", "from_3m"),
    ("speed_controller", "plugs=round_screwed", "fill=hollow", "--how", "at_part"),
    ("mixture_controller", "kind=three_ribs", "plugs=round_screwed"),
    ("o2_sensor", "--not-judged", "--note", "under the lagging"),
)
FOUND = (
    "barometric_pressure@site=12.34 psia", "ambient_temperature@site=81 °F", "relative_humidity@site=31 %",
    "engine_power@engine=1735 hp", "manifold_pressure@engine=29.8 psig",
)  # fmt: skip
EXHAUST_FOUND = ("exhaust_oxygen_dry@stack=8,9 %", "exhaust_nox_dry@stack=149 ppm", "exhaust_co_dry@stack=402 ppm")
EXHAUST_LEFT = ("exhaust_oxygen_dry@stack=9.3 %", "exhaust_nox_dry@stack=84 ppm")
FUEL = ("fuel_flow@engine=12571 scfh (60 F, 14.73 psia)", "gross_heating_value@fuel=1070 Btu/scf (60 F, 14.73 psia)")


def picture() -> bytes:
    """A PNG of one grey point."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", zlib.compress(b"\x00\x80")) + chunk(b"IEND", b"")


@pytest.fixture
def at_home(asfound, tmp_path, monkeypatch):
    """Run a command on a home that nobody has begun."""

    def run(*words):
        monkeypatch.setenv("ASFOUND_HOME", str(tmp_path / "new"))
        monkeypatch.setenv("ASFOUND_WHO", "J. Orme")
        said = asfound(*words)
        assert said.code in (DONE, NO), said.err
        return said

    return run


def begin(run):
    """Site, engine, limit, instrument and open visit."""
    run("site", "add", "Ashgrebe station", "--height", "1460 m", "--units", "us", "--zone=-06:00")
    run(
        "engine", "add", "A2", "--site", "Ashgrebe station", "--family", "HM9", "--works-number", "20388",
        "--inline", 9,
        "--driven", "compressor", "--turbochargers", 1, "--turbochargers-at", "free_end", "--no-catalyst",
        "--bearings", 10,
        "--plate", "family=HM9", "--plate", "works_number=20388", "--plate", "generation=moldrevane_d",
    )  # fmt: skip
    run("limit", "add", "A2", "nox_mass_per_energy=1.0 g/hp-h", "--text", "permit of the station")
    run(
        "instrument", "add", "Portable analyser", "exhaust_nox_dry=5 % of reading; 5 ppm; step 1 ppm",
        "exhaust_oxygen_dry=0.2 %", "exhaust_co_dry=5 % of reading; 5 ppm", "--serial", "PA-118", "--combine", "larger",
    )  # fmt: skip
    return run("visit", "open", "A2", "--purpose", "Portable check", "--people", "J. Orme", "--json").data


def test_the_a2_visit_wholly_on_the_command_line(at_home, tmp_path):
    opened = begin(at_home)
    at_home("visit", "event", "A2", "running")
    for slot, *words in LOOKS:
        at_home("look", "A2", slot, *words)
    fitted = at_home("fitted", "A2", "--json").data
    assert fitted["builds"][0]["name"] == "moldrevane", "the plate says D; the plugs decide"
    assert {one["slot"]: one["looked"] for one in fitted["places"]}["o2_sensor"] == "not_judged"
    assert fitted["contradictions"], "plate against hardware"
    assert "round" in at_home("fitted", "A2").out

    at_home("take", "A2", *FOUND, *FUEL)
    at_home("take", "A2", "as_found", *EXHAUST_FOUND, "--instrument", "PA-118", "--minutes", 15)
    at_home("take", "A2", "as_left", *EXHAUST_LEFT, "--instrument", "PA-118")
    at_home("take", "A2", "as_left", "engine_power@engine=1740 hp", "fuel_flow@engine=12605 scfh (60 F, 14.73 psia)")
    results = at_home("results", "A2", "nox_mass_per_energy", "--json").data
    by_state = {one["state"]: one for one in results["results"]}
    assert by_state["as_left"]["value"] < by_state["as_found"]["value"]
    assert (
        by_state["as_found"]["limits"][0]["probability_beyond"] > by_state["as_left"]["limits"][0]["probability_beyond"]
    )
    assert "149 ppm" in at_home("results", "A2", "nox_mass_per_energy").out, "the trail ends at what was typed"

    shot = tmp_path / "plate.png"
    shot.write_bytes(picture())
    at_home("photo", "A2", shot, "--caption", "Nameplate", "--place", "nameplate", "--step", "fitted")
    at_home("note", "A2", "Rivets of the plate are new.", "--state", "as_found")
    at_home("setting", "A2", "set_points=written down")
    point = at_home("point", "add", "A2", "Order the harness with round plugs", "--by", "parts desk", "--json").data
    at_home("point", "done", point["entry"][-8:], "--note", "ordered")
    assert at_home("point", "list", "A2", "--json").data[0]["content"]["done"] is True

    findings = at_home("findings", "A2", "--json").data
    assert {one["code"][:2] for one in findings} >= {"EX", "FT"}
    over = next(one for one in findings if one["code"].startswith("EX"))
    at_home("decide", "A2", over["code"], "agreed", "--why", "as measured", "--nth", 1)
    decided = [one["decision"] for one in at_home("findings", "A2", "--json").data if one["decision"]]
    assert [one["why"] for one in decided] == ["as measured"]
    assert at_home("visit", "next", "A2", "--json").data["next"]["says"]

    sealed = at_home("visit", "seal", "A2", "--statement", "All as I saw it.", "--json").data
    assert sealed["visit"] == opened["visit"]
    verified = at_home("visit", "verify", "A2", "--json")
    assert (verified.code, verified.data["holds"]) == (DONE, True)
    at_home("addendum", "A2", "Laboratory result came in: gas unchanged.", "--file", shot)
    assert at_home("visit", "verify", "A2").code == DONE

    report = tmp_path / "a2.pdf"
    at_home("report", "A2", "--output", report)
    at_home("report", "A2", "--shift", "--output", tmp_path / "shift.pdf")
    assert report.read_bytes().startswith(b"%PDF-")
    assert (tmp_path / "shift.pdf").read_bytes().startswith(b"%PDF-")
    at_home("export", "A2", "--output", tmp_path / "a2.json", "--files")
    record = json.loads((tmp_path / "a2.json").read_text(encoding="utf-8"))
    assert record["visit"] == opened["entry"]
    table = list(csv.DictReader(io.StringIO(at_home("export", "A2", "--csv", "--table", "results").out)))
    assert any(row["quantity"] == "nox_mass_per_energy" for row in table)


def test_an_exported_visit_comes_in_elsewhere_and_twice_changes_nothing(at_demo, asfound, tmp_path):
    file = tmp_path / "a3.json"
    at_demo("export", "A3", "--output", file, "--files")
    there = ("--home", tmp_path / "other")
    first = asfound("bring-in", file, *there, "--who", "S. Pell", "--json").data
    assert first["new"] > 10
    assert first["seal_holds"] is True
    assert asfound("bring-in", file, *there, "--json").data["new"] == 0
    assert asfound("visit", "verify", "A3", *there).code == DONE
    here = at_demo("results", "A3", "--json").data["results"]
    assert asfound("results", "A3", *there, "--json").data["results"] == here, "the same digits on another laptop"


def test_the_demos_open_visit_is_gone_on_with_and_sealed(at_demo):
    before = at_demo("visit", "show", "A2", "--json").data
    assert before["sealed"] is None
    at_demo("take", "A2", "as_left", "exhaust_co_dry@stack=310 ppm", "--instrument", "PA-118")
    after = at_demo("visit", "show", "A2", "--json").data
    assert len(after["readings"]) == len(before["readings"]) + 1
    assert at_demo("visit", "seal", "A2").code == DONE
    refused = at_demo("take", "A2", "exhaust_co_dry@stack=311 ppm")
    assert refused.code == CANNOT
    assert "sealed" in refused.err
    assert at_demo("visit", "verify", "A2").code == DONE


def test_a_changed_byte_is_found_and_named(at_demo, demo):
    at_demo("visit", "seal", "A2")
    with sqlite3.connect(demo / "record.sqlite") as database:
        changed = database.execute(
            "UPDATE entries SET content = replace(content, '149 ppm', '109 ppm') WHERE content LIKE '%149 ppm%'"
        ).rowcount
    database.close()
    assert changed == 1
    said = at_demo("visit", "verify", "A2")
    assert said.code == NO
    assert "DOES NOT HOLD" in said.out
    assert "changed" in said.out


def test_undo_adds_a_line_and_can_be_undone(at_demo):
    took = at_demo("take", "A2", "as_left", "exhaust_co_dry@stack=310 ppm", "--json").data["readings"][0]["entry"]
    line = at_demo("undo", took[-8:], "--why", "wrong column", "--json").data["entry"]
    keys = [one["key"] for one in at_demo("visit", "show", "A2", "--json").data["readings"]]
    assert "as_left/stack/exhaust_co_dry" not in keys
    at_demo("undo", line)
    keys = [one["key"] for one in at_demo("visit", "show", "A2", "--json").data["readings"]]
    assert "as_left/stack/exhaust_co_dry" in keys


def test_a_correction_replaces_and_keeps_what_was_typed(at_demo):
    at_demo("take", "A2", "exhaust_nox_dry@stack=151 ppm", "--correct", "--note", "misread")
    readings = {one["key"]: one for one in at_demo("visit", "show", "A2", "--json").data["readings"]}
    assert readings["as_found/stack/exhaust_nox_dry"]["as_typed"] == "151 ppm"
    entries = at_demo("visit", "show", "A2", "--entries", "--json").data
    assert [one["stands"] for one in entries if one["content"].get("as_typed") == "149 ppm"] == [False]


def test_several_readings_are_kept_together_or_not_at_all(at_demo):
    before = at_demo("visit", "show", "A2", "--json").data["readings"]
    said = at_demo("take", "A2", "as_left", "exhaust_co_dry@stack=310 ppm", "exhaust_oxygen_dry@stack=9.3 psi")
    assert said.code == CANNOT
    assert "exhaust_oxygen_dry" in said.err
    assert at_demo("visit", "show", "A2", "--json").data["readings"] == before


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("take", "A2", "manifold_pressure@engine=30 psi"), "psig"),
        (("take", "A2", "cylinder_exhaust_temperature=990 °F"), "cylinder_1"),
        (("take", "A9", "exhaust_nox_dry@stack=1 ppm"), "A2"),
        (("look", "A2", "speed_controller", "plugs=round"), "round_screwed"),
        (("look", "A2", "speed_controler", "plugs=round_screwed"), "speed_controller"),
        (("look", "A2", "speed_controller"), "--not-there"),
        (("look", "A2", "speed_controller", "--not-there", "--not-judged"), "one of them"),
        (("limit", "add", "A2", "nox_mass_per_energy=1.0 kg"), "nox_mass_per_energy"),
        (("visit", "open", "A2"), "--again"),
        (("engine", "add", "A2"), "--correct"),
        (("point", "done", "00000000"), "entry"),
        (("decide", "A2", "EX-99", "agreed"), "finding"),
        (("take", "A2", "exhaust_nox_dry@stack=120 ppm", "--at", "soon"), "09:52"),
        (("take", "A2", "exhaust_nox_dry@stack=120 ppm", "--instrument", "PA-119"), "PA-118"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else "",
)
def test_what_cannot_be_says_what_fits(at_demo, words, says):
    said = at_demo(*words)
    assert (said.code, said.out) == (CANNOT, "")
    assert says in said.err
    assert "Traceback" not in said.err


def test_a_report_is_not_written_over_a_file(at_demo, tmp_path):
    file = tmp_path / "here.pdf"
    file.write_bytes(b"mine")
    assert at_demo("report", "A2", "--output", file).code == CANNOT
    assert file.read_bytes() == b"mine"


@pytest.mark.parametrize("tag", ["A1", "A2", "A3", "N1", "N2", "D1", "D2"])
def test_every_engine_of_the_demo_can_be_shown_in_words_and_in_json(at_demo, tag):
    for words in (
        ("engine", "show"),
        ("visit", "show"),
        ("visit", "next"),
        ("fitted",),
        ("places",),
        ("results",),
        ("findings",),
    ):
        said = at_demo(*words, tag)
        assert said.code == DONE, said.err
        assert said.out.strip()
        assert at_demo(*words, tag, "--json").data


def test_json_is_the_same_each_time(at_demo):
    for words in (("visit", "show", "A2"), ("fitted", "A2"), ("results", "A2"), ("engines",)):
        assert at_demo(*words, "--json").out == at_demo(*words, "--json").out


def test_components_and_what_they_can_look_like(at_demo):
    slots = {one["slot"] for one in at_demo("places", "A2", "--json").data}
    assert {"speed_controller", "ignition_unit", "o2_sensor"} <= slots
    characters = {one["character"]: one for one in at_demo("places", "A2", "speed_controller", "--json").data}
    assert "round_screwed" in {state["state"] for state in characters["plugs"]["states"]}


def test_a_home_made_once_is_not_made_over(at_demo, demo):
    said = at_demo("demo", demo)
    assert said.code == CANNOT
    assert "not empty" in said.err


def test_settings_of_the_home(at_demo):
    assert at_demo("home", "decimal=,", "units=si", "--json").data["settings"]["decimal"] == ","
    wrong = at_demo("home", "units=imperial")
    assert wrong.code == CANNOT
    assert "site, si, bar, us" in wrong.err
    assert at_demo("home", "demo=no").code == CANNOT


def test_a_point_of_a_sealed_visit_is_done_beside_it(at_demo):
    point = at_demo("point", "add", "A2", "Wash the catalyst", "--due", "2032-08-01", "--json").data["entry"]
    at_demo("visit", "seal", "A2", "--statement", "Closed.")
    assert at_demo("point", "done", point[-8:], "--on", "2032-09-01").code == CANNOT
    said = at_demo("point", "done", point[-8:], "--note", "washed", "--who", "K. Hand")
    assert (said.code, said.out.strip()) == (DONE, "Done: Wash the catalyst")
    (row,) = [one for one in at_demo("point", "list", "A2", "--json").data if one["entry"] == point]
    assert (row["done_since"]["kind"], row["done_since"]["who"]) == ("point_done", "K. Hand")
    assert "Wash the catalyst (2032-07-08, K. Hand: washed)" in at_demo("point", "list", "A2").out
    assert at_demo("visit", "verify", "A2").code == DONE
    assert at_demo("point", "done", point[-8:]).code == CANNOT
