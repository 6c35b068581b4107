"""Which general rules concern an engine of the record, beside the limits of its permit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.errors import InputError
from asfound.exhaust.duties import Concerns, duties_of
from asfound.exhaust.limits import Applicable, adopt, applicable
from asfound.exhaust.limits_of_case import facts_of
from asfound.exhaust.limits_table import read_rules, rules
from asfound.exhaust.rule_facts import EngineFacts
from asfound.quantities.register import quantities
from asfound.records import readings as taken

if TYPE_CHECKING:
    from datetime import date

    from asfound.exhaust.limits_table import Rule
    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord

OWN_RULES = "limits.csv"
"""Name of a company's own table in the home; its columns are those of the packaged tables (docs/exhaust.md)."""


def rules_for(records: Records, engine: EngineRecord, day: date) -> Applicable:
    """Return the general rows beside an engine on a day, those that its permit puts aside marked."""
    facts, _ = facts_of(engine.content)
    known = quantities()
    permit = tuple(
        one
        for one in taken.limits_on(records.fold(engine.id), day.isoformat())
        if one.quantity in known and known[one.quantity].step == "exhaust"
    )
    return applicable(facts, (*rules(), *own_rules(records)), permit, day=day)


def own_rules(records: Records) -> tuple[Rule, ...]:
    """Return the company's own table of rules, `OWN_RULES` in the home; none where there is no such file.

    Raises
    ------
    KnowledgeError
        A row of it is wrong; names file, line and column.
    """
    path = records.home.folder / OWN_RULES
    try:
        written = path.read_text(encoding="utf-8-sig", errors="replace")
    except OSError:
        return ()
    return read_rules(written, file=str(path))


def duties_for(engine: EngineRecord) -> tuple[Concerns, ...]:
    """Return what general rules ask of whoever owns or tests an engine."""
    return duties_of(facts_of(engine.content)[0])


def put_on_record(records: Records, engine: EngineRecord, rule: Rule, *, who: str) -> Entry:
    """Keep a general row as a limit of the engine; it says that it is no permit, and how its text was seen.

    Raises
    ------
    InputError
        No quantity of this program is compared with it.
    """
    if not rule.quantity:
        raise InputError("rule", rule.id, "is compared with nothing that this program works out")
    return records.append("limit", adopt(rule), engine=engine.id, who=who)


def keep_facts(records: Records, engine: EngineRecord, said: dict[str, str], *, who: str) -> Entry:
    """Keep what rules ask of an engine; an empty text takes a fact back.

    Raises
    ------
    InputError
        A name that no rule asks for, or a text that it cannot be.
    """
    EngineFacts.of(said)
    facts = {**engine.content.get("rules", {}), **said}
    content = {**engine.content, "rules": {name: text for name, text in facts.items() if text}}
    return records.append("engine", content, engine=engine.id, corrects=engine.entry.id, who=who)
