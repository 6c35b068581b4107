"""`asfound rules`: general rules beside an engine, what they ask of it, and how one is put on the record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.cli.answer import answer, coloured, wrapped
from asfound.cli.find import kept, opened, tail, writer
from asfound.cli.options import Hand
from asfound.cli.typed import name_and_text
from asfound.errors import UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.exhaust.duties import Concerns
    from asfound.exhaust.limits import Applicable, Application
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord


def rules(
    engine: str,
    /,
    *facts: str,
    adopt: str = "",
    duties: bool = False,
    on: str = "",
    hand: Hand = Hand(),
) -> None:
    """Show which general rules concern an engine beside its permit, and what each row still asks of it.

    asfound rules A2                                    lists them; the permit goes first
    asfound rules A2 made=2009-06-15 source=area        keeps what the rules ask of the engine
    asfound rules A2 --adopt ROW                        puts a row on the record, as a general rule and no permit

    Parameters
    ----------
    engine
        Tag of the engine.
    facts
        What the rules ask, as name=text; an empty text takes it back.
    adopt
        Row to put on the record as a limit.
    duties
        Also what the rules ask of whoever owns or tests the engine.
    on
        Day on which they are asked for: 2032-07-08; today when left out.
    """
    from datetime import date

    from asfound.records.rules import duties_for, keep_facts, rules_for

    records = opened(hand)
    found = records.engine(engine)
    if facts:
        keep_facts(records, found, dict(name_and_text(one, "fact") for one in facts), who=writer(hand, records))
        found = records.engine(engine)
    day = date.fromisoformat(on) if on else records.clock.now().date()
    beside = rules_for(records, found, day)
    if adopt:
        _adopt(records, found, beside, adopt, hand)
        return
    asked = duties_for(found) if duties else ()
    data = {"engine": found.tag, "says": beside.says, "questions": list(beside.questions),
            "rules": [_as_dict(one) for one in beside.general], "duties": [one.says for one in asked]}  # fmt: skip
    answer(hand, data, lambda: _told(beside, asked))


def _adopt(records: Records, engine: EngineRecord, beside: Applicable, name: str, hand: Hand) -> None:
    """Put one row on the record."""
    from asfound.records.rules import put_on_record

    row = next((one.rule for one in beside.general if one.rule.id == name), None)
    if row is None:
        raise UnknownNameError("row of a rule for this engine", name, [one.rule.id for one in beside.general])
    entry = put_on_record(records, engine, row, who=writer(hand, records))
    answer(hand, kept(entry), lambda: [f"Kept {tail(entry.id)}: {row.says}. {row.where}", f"  {row.status_words}"])


def _told(beside: Applicable, asked: tuple[Concerns, ...]) -> Iterator[str]:
    yield from wrapped(beside.says)
    for title, rows in (("Apply", beside.applying), ("May apply", beside.may_apply)):
        if rows:
            yield coloured(title, "head")
        for one in rows:
            yield f"  {one.rule.id}"
            yield from wrapped(one.says, "    ")
    if asked:
        yield coloured("Asked of owner and test", "head")
        for duty in asked:
            yield from wrapped(duty.says, "  ")
    yield ""
    yield from wrapped("The permit at hand goes before every general rule; the site's environmental office decides.")


def _as_dict(one: Application) -> dict[str, Any]:
    rule = one.rule
    return {
        "row": rule.id, "verdict": one.verdict, "says": rule.says, "where": rule.where, "status": rule.status,
        "asks": list(one.asks), "quantity": rule.quantity, "value": rule.si, "as_typed": rule.as_typed,
        "side": rule.side, "put_aside_for": one.overridden_by.as_typed if one.overridden_by else None,
    }  # fmt: skip
