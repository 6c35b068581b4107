"""The as-found set of an engine, and how much of it a visit holds."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any, Literal

from asfound.quantities.register import title_of
from asfound.records.view_parts import STEP_TITLES, STEPS, SetItem, StepName, StepProgress
from asfound.sources.tables import load_yaml

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from asfound.fitout.identification import Identification
    from asfound.records.entries import Entry
    from asfound.records.view_parts import KeptReading

Answer = Literal["taken", "could_not", "open"]
MINUTES_OF_A_LOOK = 5.0
"""For a place whose look has no time of its own in the catalogue. Engineering judgement."""


def as_found_set(engine: Mapping[str, Any]) -> tuple[Mapping[str, Any], ...]:
    """Return the items that an engine of this layout should be taken with, in the order of the visit.

    Parameters
    ----------
    engine : mapping
        Fields of ``kinds.Engine``.

    Returns
    -------
    tuple of mappings
        ``step, quantity, place, title, left, minutes``; for what is no quantity ``setting`` or ``photo`` in its stead.
    """
    places = _places(engine)
    found: list[Mapping[str, Any]] = []
    for item in _set():
        if _applies(item.get("when", {}), engine):
            wanted = item["places"]
            found += [{**item, "place": place} for place in (places[wanted] if isinstance(wanted, str) else wanted)]
    return tuple(found)


def progress(
    wanted: Sequence[Mapping[str, Any]],
    readings: Mapping[str, KeptReading],
    others: Sequence[Entry],
    identification: Identification | None,
) -> Mapping[str, StepProgress]:
    """Return per step how much of the set is there, as found and as left."""
    items: dict[StepName, list[SetItem]] = {step: [] for step in STEPS}
    for one in wanted:
        items[one["step"]].append(_item(one, readings, others))
    items["fitted"] += _looks(identification)
    return {step: _progress(step, tuple(items[step])) for step in STEPS}


def _item(wanted: Mapping[str, Any], readings: Mapping[str, KeptReading], others: Sequence[Entry]) -> SetItem:
    """Return the state of one item."""
    name = str(wanted.get("quantity") or wanted.get("setting") or "photo")
    found = _answer(name, wanted, "as_found", readings, others)
    left: Literal["taken", "could_not", "open", "not_asked"] = "not_asked"
    if wanted.get("left", True):
        left = _answer(name, wanted, "as_left", readings, others)
    return SetItem(
        step=wanted["step"],
        quantity=name,
        place=str(wanted["place"]),
        title=str(wanted.get("title") or title_of(name)),
        found=found,
        left=left,
        minutes=float(wanted["minutes"]),
        state_needed=wanted.get("state_needed", "running"),
    )


def _answer(
    name: str, wanted: Mapping[str, Any], state: str, readings: Mapping[str, KeptReading], others: Sequence[Entry]
) -> Answer:
    """Tell whether one item was taken in a state."""
    if "quantity" not in wanted:
        return "taken" if any(_serves(one, wanted, state) for one in others) else "open"
    keys = (f"{wanted['place']}/{name}", *wanted.get("instead", ()))
    kept = [one for key in keys if (one := readings.get(f"{state}/{key}")) is not None]
    if not kept:
        return "open"
    return "could_not" if all(one.missing for one in kept) else "taken"


def _serves(entry: Entry, wanted: Mapping[str, Any], state: str) -> bool:
    """Tell whether an entry is the setting or photo that is wanted."""
    if "setting" in wanted:
        content = entry.content
        return entry.kind == "setting" and content["name"] == wanted["setting"] and content["state"] == state
    return entry.kind == "photo" and entry.content.get("step") == wanted["photo"]


def _looks(identification: Identification | None) -> list[SetItem]:
    """Return one item for each place that should be looked at; what an earlier visit saw is still to be looked at."""
    if identification is None:
        return []
    minutes = {one.slot: one for one in reversed(identification.next_looks)}
    answers: dict[str, Answer] = {"seen": "taken", "not_there": "taken", "not_judged": "could_not", "open": "open"}
    return [
        SetItem(
            step="fitted",
            quantity=place.slot,
            place="",
            title=place.title,
            found="open" if place.looks and all(one.age for one in place.looks) else answers[place.looked],
            left="not_asked",
            minutes=minutes[place.slot].minutes if place.slot in minutes else MINUTES_OF_A_LOOK,
            state_needed=minutes[place.slot].state_needed if place.slot in minutes else "running",
        )
        for place in identification.places
        if not place.evidence_only
    ]


def _progress(step: StepName, items: tuple[SetItem, ...]) -> StepProgress:
    """Count a step."""
    left = [one for one in items if one.left != "not_asked"]
    return StepProgress(
        step=step,
        title=STEP_TITLES[step],
        found=sum(one.found != "open" for one in items),
        found_of=len(items),
        left=sum(one.left != "open" for one in left),
        left_of=len(left),
        items=items,
    )


def _places(engine: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """Return the places of an engine by the word that the set uses for them."""
    layout = engine.get("layout") or {}
    count = int(layout.get("cylinders") or 0)
    turbochargers = int((engine.get("turbochargers") or {}).get("count") or 0)
    vee = layout.get("form") == "vee"
    cylinders = (
        tuple(f"cylinder_{side}{n}" for side in "LR" for n in range(1, count // 2 + 1))
        if vee
        else tuple(f"cylinder_{n}" for n in range(1, count + 1))
    )
    sides = ("left", "right")
    several = turbochargers > 1
    return {
        "engine": ("engine",),
        "cylinders": cylinders,
        "rows": tuple(f"{side}_bank" for side in sides) if vee else ("engine",),
        "turbines": tuple(f"{side}_bank" for side in sides) if several else ("engine",),
        "exhaust": ("after_catalyst",) if engine.get("catalyst") else ("stack",),
        "bearings": tuple(f"bearing_{n}" for n in range(1, int(engine.get("bearings") or 0) + 1)),
    }


def _applies(when: Mapping[str, Any], engine: Mapping[str, Any]) -> bool:
    """Tell whether an item belongs to an engine: every condition names a field and what it must be."""
    return all(
        bool(engine.get(name)) is wanted if isinstance(wanted, bool) else engine.get(name) == wanted
        for name, wanted in when.items()
    )


@cache
def _set() -> tuple[Mapping[str, Any], ...]:
    """Return the items of the packaged set."""
    return tuple(load_yaml("asfound.records", "data/as_found_set.yaml")["items"])
