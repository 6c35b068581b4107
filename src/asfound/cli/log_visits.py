"""`asfound log-visits`: before and after each visit, by the log: what moved, by how much, and did the repair work."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from asfound.cli.answer import answer, coloured, wrapped
from asfound.cli.find import opened
from asfound.cli.options import Home


def log_visits(engine: str, visit: str = "", /, *, where: Home = Home()) -> None:
    """Say what each visit did by the log: before and after at like load, with interval, and whether the repair worked.

    asfound log-visits A2

    asfound log-visits A2 2032-07-08

    Parameters
    ----------
    engine
        Tag of the engine.
    visit
        Day of one visit; all without it.
    """
    from asfound.errors import RecordError
    from asfound.history.look_words import effect_says, move
    from asfound.records.logs_of_engine import kept_look_of
    from asfound.records.unit_system import system_of

    records = opened(where)
    found = records.engine(engine)
    look = kept_look_of(records, found)
    if look is None:
        raise RecordError(
            f"What the log of {found.tag} says has not been worked out. First: asfound log-look {found.tag}"
        )
    system = system_of(records, found)
    sealed = {one.name for one in records.visits(found.id) if one.sealed is not None}
    visits: list[dict[str, Any]] = []
    for seen in look.visits:
        if visit and visit not in (seen.name, seen.name.rpartition("/")[2]):
            continue
        told = [(effect, look.indicator(effect.key)) for effect in seen.effects]
        visits.append(
            {
                "visit": seen.name,
                "sealed": seen.name in sealed,
                "effects": [
                    {
                        "reading": effect.title,
                        "difference": move(one, effect.difference, system)[0] if one else "",
                        "interval": move(one, effect.difference, system)[1] if one else "",
                        "verdict": effect.verdict,
                        "probability": effect.probability if effect.probability == effect.probability else None,
                        "says": effect_says(effect, one, system),
                    }
                    for effect, one in told
                ],
            }
        )
    if visit and not visits:
        names = ", ".join(one.name for one in look.visits) or "none"
        raise RecordError(f"No visit of {found.tag} of that name lies within the log up to {look.day}. There: {names}.")
    data = {"engine": found.tag, "up_to": look.day, "visits": visits}
    answer(where, data, lambda: _said(data))


def _said(data: dict[str, Any]) -> Iterator[str]:
    yield coloured(f"{data['engine']}, by its log up to {data['up_to']}", "head")
    if not data["visits"]:
        yield "No visit has rows of the log on both sides."
    for one in data["visits"]:
        after = "; seen after the seal" if one["sealed"] else ""
        yield f"{one['visit']}{after}"
        for effect in one["effects"]:
            yield from wrapped(effect["says"], "  ")
        if not one["effects"]:
            yield "  Nothing moved by as much as is worth a word, or too little was logged on one side."
