"""A reading is judged false on the command line."""

from __future__ import annotations

from asfound.cli import CANNOT, DONE

POWER = "as_found/engine/engine_power"


def test_it_is_listed_and_counts_again(at_demo):
    assert at_demo("judge", "A2").out.strip() == "None."
    assert at_demo("judge", "A2", POWER, "false", "--why", "wrong table").code == DONE
    assert at_demo("judge", "A2", "--json").data == [
        {"key": POWER, "as_typed": "1735 hp", "why": "wrong table", "who": "J. Orme"}
    ]
    assert at_demo("judge", "A2", POWER, "sound").code == DONE
    assert at_demo("judge", "A2", "--json").data == []
    assert at_demo("judge", "A2", POWER).code == CANNOT
    assert at_demo("judge", "A2", "as_found/engine/nothing", "false").code == CANNOT
