"""`asfound judge`: a reading is judged false, or sound again; it stays in the record either way."""

from __future__ import annotations

from typing import Literal

from asfound.cli.answer import answer, columns
from asfound.cli.find import kept, opened, time_of, view_of, writer
from asfound.cli.options import Hand


def judge(
    visit: str,
    key: str = "",
    verdict: Literal["false", "sound", ""] = "",
    /,
    *,
    why: str = "",
    at: str = "",
    hand: Hand = Hand(),
) -> None:
    """Judge a reading false: it stays, and numbers are worked out without it. `sound` takes that back.

    asfound judge A2                                                       lists what was judged false
    asfound judge A2 as_found/engine/fuel_flow false --why 'meter stuck'

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    key
        state/place/quantity of the reading.
    verdict
        false or sound.
    why
        What speaks against it.
    at
        When, if not now.
    """
    from asfound.errors import InputError
    from asfound.records.judgement import judge_reading

    records = opened(hand)
    seen = view_of(records, visit)
    if not key:
        rows = [
            (one.key, one.as_typed, str(judged.content.get("why", "")), judged.who)
            for one in seen.readings.values()
            if (judged := one.judged_false) is not None
        ]
        data = [{"key": k, "as_typed": typed, "why": said, "who": who} for k, typed, said, who in rows]
        answer(hand, data, lambda: columns(rows, ("reading", "as typed", "why", "by")) if rows else ["None."])
        return
    if not verdict:
        raise InputError("verdict", "", "is missing", allowed="false, sound")
    entry = judge_reading(records, seen, key, verdict, why=why, who=writer(hand, records), time=time_of(records, at))
    says = "is judged false; numbers go without it" if verdict == "false" else "counts again"
    answer(hand, kept(entry), lambda: [f"Kept: {key} {says}."])
