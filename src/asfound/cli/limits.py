"""`asfound limit`: walls that a number must stay this side of."""

from __future__ import annotations

from cyclopts import App

from asfound.cli.answer import answer, columns
from asfound.cli.find import kept, opened, tail, writer
from asfound.cli.options import Hand, Home
from asfound.cli.typed import amount, name_and_text, quantity_and_place

limit = App(name="limit")


@limit.command
def add(
    engine: str,
    quantity_and_value: str,
    /,
    *,
    lower: bool = False,
    name: str = "permit",
    text: str = "",
    basis: str = "",
    valid_from: str = "",
    valid_to: str = "",
    hand: Hand = Hand(),
) -> None:
    """Add a limit: permit, rating, alarm.

    asfound limit add A2 nox_mass_per_energy='1.0 g/hp-h' --text 'permit 20388, table 2'

    Parameters
    ----------
    engine
        Tag of the engine.
    quantity_and_value
        quantity=value, or quantity@place=value where it holds at one place only.
    lower
        The number must stay above it; without it, below.
    name
        The word that stands on the wall: permit, rating, alarm.
    text
        Where it is written, with number, date and clause.
    basis
        Averaging time, dry or wet, reference oxygen.
    valid_from
        Date from which it holds.
    valid_to
        Date to which it holds.
    """
    from asfound.quantities.limits import limit_value

    records = opened(hand)
    found = records.engine(engine)
    word, typed = name_and_text(quantity_and_value, "limit")
    quantity, place = quantity_and_place(word)
    read = amount(typed, quantity, word, records.settings.typed_decimal)
    content = {
        "quantity": quantity,
        "place": place,
        "value": limit_value(read, quantity, word),
        "as_typed": typed,
        "side": "lower" if lower else "upper",
        "name": name,
        "text": text,
        "basis": basis,
        "valid_from": valid_from or None,
        "valid_to": valid_to or None,
    }
    entry = records.append("limit", content, engine=found.id, who=writer(hand, records))
    answer(hand, kept(entry), lambda: [f"Kept {tail(entry.id)}: {name} of {found.tag}, {quantity} {typed}"])


@limit.command(name="list")
def list_limits(engine: str, /, *, where: Home = Home()) -> None:
    """List the limits of an engine.

    Parameters
    ----------
    engine
        Tag of the engine.
    """
    records = opened(where)
    entries = [one for one in records.fold(records.engine(engine).id).current if one.kind == "limit"]
    rows = [
        (
            tail(e.id),
            e.content["name"],
            e.content.get("side", "upper"),
            e.content["quantity"],
            e.content["as_typed"],
            e.content.get("text", ""),
        )
        for e in entries
    ]
    answer(
        where,
        [kept(e) for e in entries],
        lambda: columns(rows, ("entry", "name", "side", "quantity", "value", "where written")),
    )
