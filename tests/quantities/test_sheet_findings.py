"""Findings of all rooms come in the order of urgency."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.quantities.findings import Case, find_all, load
from asfound.quantities.words import SEVERITIES, Finding

from .sheet_world import simple

CASE = Case(readings=(), worked=simple().work_out())


def finding(code, severity, probability=None):
    return Finding(
        code=code, subject="exhaust", says=code, severity=severity, next_step="Look.", probability=probability
    )


def test_the_most_urgent_comes_first_then_the_most_probable():
    rooms = {
        "one": lambda _: [finding("B", "note"), finding("A", "stop", 0.2), finding("C", "visit", 0.9)],
        "two": lambda _: iter([finding("D", "stop", 0.8), finding("E", "visit")]),
    }
    assert [one.code for one in find_all(CASE, rooms=rooms)] == ["D", "A", "E", "C", "B"]


@settings(deadline=None)
@given(st.permutations([finding(f"X{at}", SEVERITIES[at % 5], (at % 3) / 3 or None) for at in range(12)]))
def test_the_same_findings_come_in_the_same_order(shuffled):
    in_order = find_all(CASE, rooms={"room": lambda _: shuffled})
    assert in_order == find_all(CASE, rooms={"room": lambda _: sorted(shuffled, key=lambda one: one.code)})


def test_every_room_that_judges_can_judge_an_empty_visit():
    assert "exhaust" in load()
    assert isinstance(find_all(CASE), tuple)


def test_a_room_that_breaks_down_does_not_silence_the_others():
    def broken(_):
        raise ZeroDivisionError("float division by zero")

    sound = finding("A", "note")
    faults: list[str] = []
    assert find_all(CASE, rooms={"one": broken, "two": lambda _: [sound]}, faults=faults) == (sound,)
    assert faults == [
        "A fault of the program: the findings of 'one' could not be worked out "
        "(ZeroDivisionError: float division by zero)."
    ]
    with pytest.raises(ZeroDivisionError):
        find_all(CASE, rooms={"one": broken})
