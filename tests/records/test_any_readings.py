"""No set of plausible readings makes a worksheet, a finding, a drawing or the report fail.

Readings are drawn from the whole register: any quantity, at a place where it is read on that engine, in either state,
anywhere in its plausible range, its ends and what is often nought included.
"""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from asfound.quantities.register import quantities
from asfound.records.demo import make_demo_home
from asfound.records.store import Draft, Records
from asfound.records.visit import VisitView, view
from asfound.report.content import report_content
from asfound.report.shift_sheet import operator

ENGINES = {
    "inline": {"layout": {"form": "inline", "cylinders": 6}, "driven": "generator", "family": "TR10"},
    "vee": {"layout": {"form": "vee", "cylinders": 12}, "numbering": {"names": "L1"}, "driven": "compressor"},
    "unknown": {},
}
TIMES = {"as_found": "10:00", "as_left": "15:00"}
UNREADABLE = re.compile(r"\bnan\b|\binf\b|\bNone\b|\d{13,}|as_found|as_left|\{|\}")


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory):
    with Records.open(make_demo_home(tmp_path_factory.mktemp("any") / "home").folder) as opened:
        yield opened


def places(quantity, engine: str) -> list[str]:
    """Return where a quantity is read on an engine."""
    layout = ENGINES[engine].get("layout", {"cylinders": 4})
    each = {
        "cylinder": [f"cylinder_{row}{n}" for row in "LR" for n in range(1, 7)]
        if engine == "vee"
        else [f"cylinder_{n}" for n in range(1, layout["cylinders"] + 1)],
        "bearing": [f"bearing_{n}" for n in range(1, 8)],
    }
    return [place for one in quantity.places for place in each.get(one, [one])]


def drafts(visit: str, engine: str, chance: random.Random, share: float) -> list[Draft]:
    """Return a random part of all readings that can be taken on an engine."""
    found = []
    for quantity in quantities().values():
        low, high, symbol = quantity.plausible_as_written
        for place in places(quantity, engine):
            for state, clock in TIMES.items():
                if chance.random() > share:
                    continue
                value = chance.choice([low, high, 0.0 if low <= 0.0 <= high else low, *[chance.uniform(low, high)] * 5])
                content = {
                    "quantity": quantity.name, "place": place, "state": state, "time": f"2032-08-01T{clock}:00+00:00",
                    "as_typed": f"{value:.5g} {symbol}".removesuffix(" 1"), "unit": symbol,
                    "value": float(quantity.from_unit(value, symbol)),
                }  # fmt: skip
                found.append(Draft(kind="reading", content=content, visit=visit, who="X"))
    return found


def visited(records: Records, engine: str, seed: int, share: float) -> VisitView:
    """Return the view of a visit to an engine of its own with random readings."""
    content = {"tag": f"X{len(records.engines())}", **ENGINES[engine]}
    began = records.append("engine", content, who="X")
    opened = records.append(
        "visit_opened", {"began": "2032-08-01T09:00:00+00:00", "purpose": "any"}, engine=began.id, who="X"
    )
    taken = drafts(opened.id, engine, random.Random(seed), share)
    if taken:
        records.append_many(taken)
    return view(records, opened.id)


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    engine=st.sampled_from(sorted(ENGINES)), seed=st.integers(0, 10**6), share=st.sampled_from([0.0, 0.02, 0.08, 0.25])
)
@example(engine="inline", seed=69, share=0.25)
@example(engine="inline", seed=10004, share=0.6)
def test_any_plausible_readings_are_worked_out_and_reported(records, engine, seed, share):
    seen = visited(records, engine, seed, share)
    assert not [one for one in seen.problems if "fault of the program" in one]
    for one in seen.findings:
        assert not UNREADABLE.search(f"{one.says} {one.next_step}"), f"{one.code}: {one.says} {one.next_step}"
    for result in seen.worked.results:
        assert result.value == result.value
    for system in ("si", "us"):
        report_content(seen, system=system, proof=False)
        operator(seen, system)


def test_the_packaged_story_is_one_of_them(tmp_path: Path):
    """The demo visits pass the same law."""
    with Records.open(make_demo_home(tmp_path / "home").folder) as opened:
        for visit in opened.visits():
            assert not [one for one in view(opened, visit.id).problems if "fault of the program" in one]
