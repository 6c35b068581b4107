"""`asfound take`: readings, as found or as left."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.cli.answer import answer, coloured, columns
from asfound.cli.find import instrument_of, opened, state_of, tail, time_of, view_of, writer
from asfound.cli.options import Hand
from asfound.cli.typed import Doubt, content_from, name_and_text, quantity_and_place
from asfound.errors import InputError

EACH = ("cylinder", "bearing")
"""Places of the register of quantities that stand for each one."""

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from asfound.records.entries import Entry
    from asfound.records.store import Draft, Records
    from asfound.records.visit import VisitView


def take(
    visit: str,
    /,
    *words: str,
    instrument: str = "",
    at: str = "",
    minutes: float | None = None,
    doubt: Doubt = "limit",
    source: str = "",
    note: str = "",
    correct: bool = False,
    hand: Hand = Hand(),
) -> None:
    """Take readings, all or none. Without readings: list what is still to be taken.

    asfound take A2 as_left exhaust_oxygen_dry@stack='8.5 %' exhaust_nox_dry@stack='120 ppm'

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    words
        as_found or as_left, then quantity@place=value, several; as_found when neither is said.
    instrument
        Name or serial of the instrument.
    at
        When, if not now: 09:52, or a full time.
    minutes
        Averaged over so many minutes.
    doubt
        What a number after +- means: what the instrument claims, a standard uncertainty, or k = 2.
    source
        Laboratory, document or display, when nobody read an instrument.
    note
        Anything else.
    correct
        Put right what was typed last at this place, instead of adding a later reading.
    """
    records = opened(hand)
    said = [word for word in words if state_of(word)]
    given = [word for word in words if not state_of(word)]
    if len(said) > 1:
        raise InputError("state", " ".join(said), "names two states", try_next="Take the readings of each state apart.")
    state = (state_of(said[0]) if said else None) or "as_found"
    seen = view_of(records, visit)
    if not given:
        _list(seen, hand, state if said else "")
        return
    common: dict[str, Any] = {
        "state": state, "time": time_of(records, at), "minutes": minutes, "source": source, "note": note,
        "origin": "typed" if source and not instrument else "measured",
    }  # fmt: skip
    drafts = [_draft(records, seen, word, common, instrument, doubt, correct) for word in given]
    entries = records.append_many([_by(draft, writer(hand, records)) for draft in drafts])
    after = view_of(records, seen.id)
    answer(hand, _kept(after, entries), lambda: _told(seen, after, entries))


def _by(draft: Draft, who: str) -> Draft:
    from dataclasses import replace

    return replace(draft, who=who)


def _draft(
    records: Records, seen: VisitView, word: str, common: dict[str, Any], instrument: str, doubt: Doubt, correct: bool
) -> Draft:
    """Return the entry that one ``quantity@place=value`` becomes."""
    from asfound.records.store import Draft

    name, text = name_and_text(word, "reading")
    quantity, place = quantity_and_place(name, [item.quantity for step in seen.steps.values() for item in step.items])
    place = place or _usual_place(seen, quantity, text)
    content = content_from(
        text,
        quantity,
        place,
        field=f"{common['state']}/{place}/{quantity}",
        doubt=doubt,
        decimal=records.settings.typed_decimal,
        instrument=instrument_of(records, instrument) if instrument else None,
        more=common,
    )
    before = seen.readings.get(f"{common['state']}/{place}/{quantity}")
    if correct and before is None:
        raise InputError(name, text, "corrects nothing: no such reading was taken", try_next="Leave --correct out.")
    corrects = before.entry.id if correct and before else None
    return Draft(kind="reading", content=content, visit=seen.id, corrects=corrects)


def _usual_place(seen: VisitView, quantity: str, text: str) -> str:
    """Return the one place where this quantity is read on this engine.

    Raises
    ------
    InputError
        There are several; names them.
    """
    from asfound.quantities.register import quantity as register

    of_set = [item.place for step in seen.steps.values() for item in step.items if item.quantity == quantity]
    places = list(dict.fromkeys(of_set)) or list(register(quantity).places)
    if len(places) == 1 and places[0] not in EACH:
        return places[0]
    raise InputError(
        quantity, text, "does not say where it was read", allowed=", ".join(places[:12]),
        try_next=f"Write {quantity}@{places[0] if places else 'engine'}=...",
    )  # fmt: skip


def _kept(after: VisitView, entries: Sequence[Entry]) -> dict[str, Any]:
    keys = [f"{e.content['state']}/{e.content['place']}/{e.content['quantity']}" for e in entries]
    return {
        "visit": after.visit.name,
        "readings": [
            {"entry": e.id, "key": key, "as_typed": e.content["as_typed"], "value": e.content.get("value"),
             "gauge": e.content.get("gauge", False), "unit_as_typed": e.content.get("unit", ""),
             "standard_uncertainty": after.readings[key].standard_uncertainty, "said_by": after.readings[key].said_by}
            for key, e in zip(keys, entries, strict=True)
        ],
        "progress": {
            name: {"found": [s.found, s.found_of], "left": [s.left, s.left_of]} for name, s in after.steps.items()
        },
    }  # fmt: skip


def _told(before: VisitView, after: VisitView, entries: Sequence[Entry]) -> Iterator[str]:
    from asfound.quantities.register import implausible

    for entry in entries:
        content = entry.content
        key = f"{content['state']}/{content['place']}/{content['quantity']}"
        was = before.readings.get(key)
        yield f"Kept {tail(entry.id)}  {key}  {content['as_typed']}" + (f"  (was {was.as_typed})" if was else "")
        if content.get("value") is not None:
            odd = implausible(content["quantity"], content["value"], gauge=bool(content.get("gauge")))
            if odd:
                yield coloured(f"  Look again: {odd}", "soon")
    new = [one for one in after.findings if one.says not in {old.says for old in before.findings}]
    yield from (coloured(f"  {one.code} {one.says} {one.next_step}", one.severity) for one in new)


def _list(seen: VisitView, hand: Hand, state: str) -> None:
    """Say what is still to be taken."""
    items = [
        (item, side)
        for step in seen.steps.values()
        for item in step.items
        for side, taken in (("as_found", item.found), ("as_left", item.left))
        if taken == "open" and state in ("", side)
    ]
    data = [
        {
            "step": i.step,
            "state": side,
            "quantity": i.quantity,
            "place": i.place,
            "title": i.title,
            "minutes": i.minutes,
            "state_needed": i.state_needed,
        }
        for i, side in items
    ]
    rows = [(side, i.step, f"{i.quantity}@{i.place}", f"{i.minutes:g} min", i.title) for i, side in items]
    answer(
        hand,
        data,
        lambda: columns(rows, ("state", "step", "reading", "", "what"), right=(3,)) if rows else ["All is taken."],
    )
