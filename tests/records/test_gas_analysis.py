"""A gas analysis in the record: one action, all of it or nothing; two laptops, a sealed visit, no mixing."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from asfound.errors import InputError, RecordError
from asfound.fuel.composition import composition
from asfound.fuel.report_traces import Trace
from asfound.fuel.visit_analysis import ANALYSIS
from asfound.records.demo import make_demo_home
from asfound.records.gas_analysis import Paper, kept, source_words, take, undo
from asfound.records.store import Records
from asfound.records.visit import view

PAPER = Paper(content=b"Methane 95\nNitrogen 5", filename="report.txt")


@pytest.fixture
def records(tmp_path):
    home = make_demo_home(tmp_path / "demo")
    with Records.open(home.folder) as opened:
        yield opened


def gas(**shares):
    return composition({name.replace("_", " "): share for name, share in shares.items()}, sampled=date(2032, 7, 1))


def test_what_was_taken_is_what_lies_there(records):
    one = composition({"methane": 0.95, "nitrogen": 0.05}, uncertainties="astm_d1945", sampled=date(2032, 7, 1))
    trace = Trace(quantity="fuel_siloxanes", value=4e-6, as_typed="4 mg/m3(n)")
    entries = take(records, view(records, "A2"), one, traces=(trace,), papers=(PAPER,), state="as_left", who="X",
                   source=source_words("Lab", "12", one.sampled))  # fmt: skip
    assert {entry.kind for entry in entries} == {"reading", "photo"}
    there = kept(view(records, "A2"), "as_left")
    by_name = {name: share for name, share in there.composition.by_name.items() if share}
    assert by_name == pytest.approx({"methane": 0.95, "nitrogen": 0.05})
    u = dict(zip(there.composition.components, there.composition.standard_uncertainties, strict=True))
    assert u["methane"] == pytest.approx(one.standard_uncertainties[0])
    assert (there.age_days, there.source) == (7.0, "Lab, report 12, sampled 2032-07-01")
    assert [each.value for each in there.traces] == [4e-6]
    assert records.attachment(there.papers[0].content["digest"]) == PAPER.content


def test_nothing_is_kept_of_a_sample_from_after_the_visit(records):
    before = len(records.entries())
    late = composition({"methane": 1.0}, sampled=date(2032, 8, 1))
    with pytest.raises(InputError, match="is after"):
        take(records, view(records, "A2"), late, who="X")
    with pytest.raises(InputError, match="no analysis that could be put right"):
        take(records, view(records, "A2"), gas(methane=1.0), state="as_left", who="X", correct=True)
    with pytest.raises(InputError, match="no analysis that was taken as one"):
        undo(records, view(records, "A2"), "as_left", who="X")
    assert len(records.entries()) == before


def test_a_sealed_visit_takes_none(records):
    sealed = next(one for one in records.visits() if one.sealed is not None)
    with pytest.raises(RecordError, match="sealed"):
        take(records, view(records, sealed.id), composition({"methane": 1.0}), who="X")


SHARES = st.dictionaries(
    st.sampled_from(sorted(set(ANALYSIS.values()))), st.integers(1, 1000), min_size=1, max_size=8
)  # fmt: skip


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(SHARES, min_size=1, max_size=3))
def test_the_last_analysis_stands_alone_whatever_came_before(records, gases):
    """A later analysis in a state is the gas of that state: no component of an earlier one is left in it."""
    for shares in gases:
        total = sum(shares.values())
        one = composition({name: share / total for name, share in shares.items()})
        take(records, view(records, "A2"), one, state="as_left", who="X")
        there = kept(view(records, "A2"), "as_left").composition.by_name
        assert {name: share for name, share in there.items() if share} == pytest.approx(one.by_name)


def test_a_gas_without_methane_is_no_less_the_gas_of_the_visit(records):
    """Pure propane: 2219.2 kJ/mol gross at 25 °C (ISO 6976:2016, table 3), 22.4 L at 0 °C; never pipeline gas."""
    engine = records.append("engine", {"tag": "E1", "family": "HM9", "layout": {"form": "inline", "cylinders": 6}})
    opened = records.append("visit_opened", {"began": "2032-07-08T14:25:00Z", "purpose": "test"}, engine=engine.id)
    take(records, view(records, opened.id), gas(propane=1.0), who="X")
    worked = view(records, opened.id).worked
    atoms = worked.result("as_found/fuel/fuel_carbon_atoms")
    assert atoms.value == pytest.approx(3.0)
    assert worked.result("as_found/fuel/gross_heating_value").value == pytest.approx(100.9e6, rel=0.01)
    assert kept(view(records, opened.id), "as_found").composition.by_name["propane"] == 1.0


def test_undo_brings_back_what_was_there_before(records):
    first, second = gas(methane=0.9, ethane=0.1), gas(methane=0.8, hydrogen=0.2)
    take(records, view(records, "A2"), first, state="as_left", who="X", papers=(PAPER,))
    take(records, view(records, "A2"), second, state="as_left", who="X",
         papers=(Paper(content=b"another", filename="b.txt"),))  # fmt: skip
    undo(records, view(records, "A2"), "as_left", who="X")
    there = kept(view(records, "A2"), "as_left").composition.by_name
    assert {name: share for name, share in there.items() if share} == pytest.approx(first.by_name)
    assert [one.content["filename"] for one in kept(view(records, "A2"), "as_left").papers] == ["report.txt"]
