"""Records of failures: what is missing or contradicts, codes proposed from words, rates and lives."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import asfound
from asfound.errors import InputError, KnowledgeError
from asfound.sources import yaml_lines
from asfound.upkeep.checks_records import checks
from asfound.upkeep.failure_file import failures_csv, read_records
from asfound.upkeep.failure_rates import life_of, rates
from asfound.upkeep.failure_records import check_failure, check_work, codes, means, of_entry, plain, says
from asfound.upkeep.failure_words import propose, typing_errors
from asfound.upkeep.life import fit_weibull
from asfound.upkeep.repairs import laplace, mtbf_limits

DEMO = Path(asfound.__file__).parent / "records" / "data" / "demo" / "upkeep.yaml"
GOOD = {
    "record": "F-1", "equipment": "A3", "detected": "2032-09-19T14:05:00Z", "hours": 38244, "mode": "UST",
    "mechanism": "4.2", "cause": "3.4", "subunit": "engine", "item": "ignition coil", "detection": "inspection",
    "impact": "critical", "operating": "running",
}  # fmt: skip


@pytest.mark.parametrize("check", list(checks()), ids=lambda check: check.check)
def test_published(check):
    assert check.holds, check


@pytest.mark.parametrize("field", ["record", "equipment", "detected", "mode", "impact", "operating"])
def test_what_is_needed_and_left_out_is_missing(field):
    for nothing in (None, ""):
        assert check_failure(GOOD | {field: nothing}) == (f"missing:{field}",)


def test_codes_may_be_written_in_several_ways():
    assert check_failure(GOOD | {"mode": "ust", "operating": "hot_standby", "detection": "On demand"}) == ()
    assert plain("operating", "start_up") == plain("operating", "Start-up") == "start-up"
    assert plain("detection", "continuous condition monitoring") == "condition monitoring continuous"
    assert means("mode", "UST") == "stops without need"


def test_every_code_of_a_finding_has_its_sentence():
    for wrong in (
        {"mode": "BRD", "impact": "degraded"}, {"mode": "UNK"}, {"hours": -1}, {"mechanism": "1.0"}, {"mode": "XXX"},
        {"mechanism": "3.5"}, {"mode": "STP"}, {"cause": ""}, {"mode": ""},
    ):  # fmt: skip
        for code in check_failure(GOOD | wrong):
            assert says(code, GOOD | wrong).endswith(".")
            assert "_" not in says(code)
    for wrong in ({"category": "corrective"}, {"category": "preventive", "activity": "repair", "active_hours": -1}):
        for code in check_work(wrong):
            assert says(code, wrong).endswith(".")


def test_an_entry_of_the_record_becomes_failure_and_work():
    entry = {
        "entry": "e1", "date": "2032-09-19", "mode": "UST", "impact": "critical", "operating": "running",
        "item": "coil", "text": "trip", "category": "corrective", "activities": ["adjust", "replace"],
        "minutes_active": 90,
        "down_from": "2032-09-19T14:00:00+00:00", "down_until": "2032-09-20T11:00:00+00:00", "work_order": "W7",
    }  # fmt: skip
    failure, work = of_entry(entry, "A3")
    assert "missing" not in " ".join(check_failure(failure))
    assert (work["activity"], work["also"], work["active_hours"], work["down_hours"]) == (
        "replace",
        ["adjust"],
        1.5,
        21.0,
    )
    assert check_work(work) == ()
    assert of_entry({"entry": "e2"}, "A3")[1] is None


TEXTS = (
    ("Engine triped on high catalyst temp, coil of L4 open", "mode", "UST"),
    ("motor springt nciht an, Sicherung defekt", "mode", "FTS"),
    ("El motor no aranca en frio", "mode", "FTS"),
    ("Kein Ölleck gefunden. Drehzahl pendlet jeden Abend", "mode", "ERO"),
    ("governor huntng at 80 percent load", "mode", "ERO"),
    ("gran fuga de aciete en el carter", "mode", "ELU"),
    ("starker Oelverlust am Lader", "mode", "ELU"),
    ("smell of gas at the train", "mode", "ELF"),
    ("cylinder 4 reads cold, others fine", "mode", "AIR"),
    ("Messstelle L2 zeigt falsh", "mode", "AIR"),
    ("la sonda de NOx marca mal", "mode", "AIR"),
    ("jacket water overheatng in afternoon", "mode", "OHE"),
    ("Lager heißgelaufn", "mode", "OHE"),
    ("vibrcion fuerte lado libre", "mode", "VIB"),
    ("air filter cloged with dust", "mechanism", "5.1"),
    ("Filter verstofft", "mechanism", "5.1"),
    ("Kabelbruhc am Geber", "mechanism", "4.2"),
    ("cable cortado en la bobina", "mechanism", "4.2"),
    ("plugs worn out", "mechanism", "2.4"),
    ("Kerzen verschlisen", "mechanism", "2.4"),
    ("bujias desgastdas", "mechanism", "2.4"),
    ("short circiut in harness", "mechanism", "4.1"),
    ("o2 sensor drifted for months", "mechanism", "3.3"),
    ("valvula tapdada con depositos", "mechanism", "5.2"),
)


@pytest.mark.parametrize(("text", "field", "code"), TEXTS)
def test_codes_are_proposed_from_words_with_typing_errors(text, field, code):
    found = [one for one in propose(text) if one.field == field]
    assert found, text
    assert found[0].code == code, found
    assert 0.25 <= found[0].confidence < 1.0
    assert found[0].because


@pytest.mark.parametrize(
    "text",
    ["no oil leak seen", "kein Ölleck, keine Leckage", "sin fuga de aceite", "all in order", "", "changed 3 plugs"],
)
def test_what_is_denied_or_not_said_is_not_proposed(text):
    assert [one.code for one in propose(text) if one.field == "mode"] == []


def test_a_language_that_is_known_leaves_the_others_out():
    assert [one.code for one in propose("no arranca", "es") if one.field == "mode"] == ["FTS"]
    assert propose("no arranca", "en") == ()


def test_proposals_are_codes_of_the_table():
    for text, _, _ in TEXTS:
        for one in propose(text):
            assert one.code in codes()[one.field]
            assert one.title == codes()[one.field][one.code]


@given(st.text("abcde", max_size=8), st.text("abcde", max_size=8))
def test_typing_errors_are_a_distance(a, b):
    assert typing_errors(a, b) == typing_errors(b, a)
    assert (typing_errors(a, b) == 0) == (a == b)
    assert typing_errors(a, b) <= max(len(a), len(b))
    assert typing_errors("coil", "cioil") == 1
    assert typing_errors("coil", "ciol") == 1


RECORDS = """failures:
- {record: F-1, equipment: A3, detected: '2032-09-19', hours: 38244, mode: UST, impact: critical, operating: running}
works:
- {record: W-1, equipment: A3, failure: F-1, date: '2032-09-20', category: corrective, activity: replace,
  active_hours: 1.5, down_hours: 21}
"""


def test_records_are_read_from_files(tmp_path):
    path = tmp_path / "records.yaml"
    path.write_text(RECORDS, encoding="utf-8")
    found = read_records(path)
    assert (found.failures[0]["hours"], found.works[0]["activity"]) == (38244, "replace")
    assert found.problems == {
        "F-1": tuple(f"advise:{n}" for n in ("cause", "detection", "item", "mechanism", "subunit"))
    }
    table = tmp_path / "failures.csv"
    table.write_text("record,equipment,hours,mode\nF-2,N1,410,FTS\nF-3,N1,,\n", encoding="utf-8")
    rows = read_records(table).failures
    assert (rows[0]["hours"], rows[1]["hours"], rows[1]["mode"]) == (410.0, None, None)


@given(
    st.lists(
        st.fixed_dictionaries({
            "record": st.text("AF-0123", min_size=1, max_size=6), "equipment": st.sampled_from(["A3", "N1"]),
            "hours": st.none() | st.floats(0, 1e5).map(lambda x: round(x, 1)),
            "mode": st.none() | st.sampled_from(sorted(codes()["mode"])),
            "operating": st.none() | st.sampled_from(sorted(codes()["operating"])),
            "remarks": st.none() | st.text("ab,\"äñ1 ", min_size=1).map(lambda x: " ".join(x.split())),
        }),
        max_size=5,
    )
)  # fmt: skip
def test_what_is_written_is_read_again(tmp_path_factory, records):
    path = tmp_path_factory.mktemp("csv") / "failures.csv"
    path.write_text(failures_csv(records), encoding="utf-8")
    found = read_records(path).failures
    known = [{name: value for name, value in one.items() if value not in (None, "")} for one in records]
    assert [{name: value for name, value in one.items() if value is not None} for one in found] == known


def test_a_table_holds_codes_as_the_standard_table_writes_them_and_no_formula():
    text = failures_csv([{"record": "F", "operating": "start_up", "remarks": "=1+1"}])
    assert "start-up" in text
    assert "'=1+1" in text


@pytest.mark.parametrize(
    ("name", "text", "line"),
    [
        ("a.yaml", RECORDS.replace("mode: UST", "moode: UST"), 2),
        ("a.yaml", RECORDS.replace("active_hours: 1.5", "active_hours: long"), 5),
        ("a.csv", "record,equipment,houres\nF,A,1\n", 1),
        ("a.csv", "record,equipment,hours\nF,A,1\nF,A,many\n", 3),
        ("a.csv", "record,equipment,hours\nF,A\n", 2),
    ],
)
def test_mistakes_in_files_are_told_with_their_line(tmp_path, name, text, line):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    with pytest.raises(KnowledgeError) as caught:
        read_records(path)
    assert caught.value.line == line


def coded_orders():
    """Yield text, field and code of the demo's orders and failures, written by other hands than the list of words."""
    for engine in yaml_lines.load(DEMO).plain()["engines"].values():
        for one in [*engine.get("orders", ()), *engine.get("failures", ())]:
            for field in ("mode", "mechanism"):
                if one.get(field):
                    yield one["text"], field, one[field]


def test_most_of_the_orders_of_the_demo_get_the_code_that_they_were_given():
    """Before these texts were seen 6 of 20 modes came first and 2 were wrong; the words were extended after that."""
    asked, right, wrong = 0, 0, 0
    for text, field, code in coded_orders():
        first = next((one.code for one in propose(text) if one.field == field), None)
        asked, right, wrong = asked + 1, right + (first == code), wrong + (first not in (None, code))
    assert asked > 25
    assert right >= 0.65 * asked
    assert wrong <= 0.25 * asked


def failure(hours, item="coil", engine="A3", record="F"):
    return {"record": record, "equipment": engine, "hours": hours, "item": item}


def test_a_rate_is_that_of_the_room_with_its_limits_and_trend():
    times = [500.0, 1500.0, 6000.0, 9000.0]
    (found,) = rates([failure(t) for t in times], [], {"A3": (0.0, 10_000.0)})
    limits = mtbf_limits(10_000.0, 4)
    assert (found.mtbf, found.low, found.high) == (2500.0, limits.lower, limits.upper)
    assert found.rate == pytest.approx(0.4)
    assert found.trend == pytest.approx(laplace(times, 10_000.0))
    assert found.steady


def test_hours_are_those_of_all_engines_and_all_places():
    watched = {"A3": (1000.0, 5000.0), "N1": (0.0, 6000.0)}
    records = [failure(2000), failure(3000, engine="N1"), failure(9000), failure(None), failure(1, engine="X9")]
    (found,) = rates(records, [], watched, on_each={"coil": 10})
    assert (found.failures, found.hours, found.left_out) == (2, 100_000.0, 2)


def test_repair_time_is_not_down_time():
    works = [
        {"failure": "F", "category": "corrective", "active_hours": 1.0, "down_hours": 20.0},
        {"failure": "F", "category": "corrective", "active_hours": 3.0, "down_hours": None},
    ]
    (found,) = rates([failure(10.0)], works, {"A3": (0.0, 100.0)})
    assert (found.repair_hours, found.down_hours, found.repaired) == (2.0, 20.0, 2)


def test_lives_count_survivors_and_leave_out_what_has_no_start():
    watched = {"A3": (0.0, 10_000.0), "N1": (500.0, 9000.0)}
    records = [failure(4000), failure(7000), failure(5000, engine="N1")]
    works = [{"equipment": "N1", "item": "coil", "hours": 2000.0, "activity": "replace"}]
    found = life_of("coil", records, works, watched)
    assert found.failures == (3000.0, 3000.0) or sorted(found.failures) == [3000.0, 3000.0]
    assert found.fit is None  # one age alone tells no shape
    new = life_of("coil", records, works, watched, new_at_start=True)
    assert sorted(new.failures) == [3000.0, 3000.0, 4000.0]
    assert sorted(new.survivors) == [1500.0, 3000.0, 4000.0]
    assert new.fit.life == fit_weibull(new.failures, new.survivors).life
    assert found.unknown_start == 2
    assert math.isclose(sum(new.failures) + sum(new.survivors), 10_000.0 + 8500.0)


def test_hours_that_cannot_be_are_refused():
    with pytest.raises(InputError, match="no time watched"):
        rates([failure(1.0)], [], {"A3": (5.0, 5.0)})
    with pytest.raises(InputError, match="leaves no hours"):
        rates([], [], {})
