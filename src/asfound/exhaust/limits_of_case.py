"""General rules beside a visit: the facts that the record keeps of the engine, and where its numbers lie."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import lru_cache
from typing import Any

from asfound.errors import InputError
from asfound.exhaust.limits import Applicable, Application, applicable, of_permit
from asfound.exhaust.limits_margin import OXYGEN, RAW, Margin, beside
from asfound.exhaust.limits_table import rules
from asfound.exhaust.rule_facts import EngineFacts
from asfound.quantities.case_numbers import number_at
from asfound.quantities.findings import Case
from asfound.quantities.register import quantities
from asfound.quantities.words import STATES, Limit, State
from asfound.quantities.worked import Worked

OUTLETS = ("after_catalyst", "stack")
"""Where emissions are judged: with a control device at its outlet (40 CFR 60 Subpart JJJJ, Table 2)."""
CATALYST_PLACES = ("engine", "left_bank", "right_bank")


def facts_of(engine: Mapping[str, Any]) -> tuple[EngineFacts, tuple[str, ...]]:
    """Return what the record keeps of an engine for rules, and in words what of it could not be read.

    Facts stand under ``rules`` as plain text; the power falls back on the rated power, the catalyst on 'none' where the
    record says that there is none.
    """
    given: dict[str, Any] = {}
    rated = engine.get("rated") or {}
    if rated.get("power"):
        given["power"] = float(rated["power"])
    if engine.get("catalyst") is False:
        given["catalyst"] = "none"
    slips: list[str] = []
    for name, value in (engine.get("rules") or {}).items():
        try:
            EngineFacts.of({name: value})
        except InputError as slip:
            slips.append(str(slip))
        else:
            given[name] = value
    return EngineFacts.of(given), tuple(slips)


def applicable_to(case: Case) -> Applicable:
    """Return which packaged rules concern the engine of a visit, on the day of the visit, beside its permit."""
    facts, _ = facts_of(case.engine)
    return _applicable(facts, permit_limits(case), day_of(case))


@lru_cache(maxsize=64)
def _applicable(facts: EngineFacts, permit: tuple[Limit, ...], day: date) -> Applicable:
    """Return the same for an engine that has not changed: a visit is judged afresh at each reading."""
    return applicable(facts, rules(), permit, day=day)


def permit_limits(case: Case) -> tuple[Limit, ...]:
    """Return the limits of the exhaust that are on the record and bind."""
    known = quantities()
    return tuple(
        one for one in of_permit(case.limits) if one.quantity in known and known[one.quantity].step == "exhaust"
    )


def day_of(case: Case) -> date:
    """Return the day of the visit, or today where the case does not say."""
    try:
        return date.fromisoformat(str(case.visit.get("date", ""))[:10])
    except ValueError:
        return date.today()


def outlets(worked: Worked, state: State) -> tuple[str, ...]:
    """Return where emissions were read in a state, the place that counts first: after the catalyst, then the stack."""
    return tuple(one for one in OUTLETS if number_at(worked, state, one, "exhaust_oxygen_dry") is not None)


def margins(case: Case, one: Application, state: State) -> tuple[Margin, ...]:
    """Return how the visit stands beside one row: at the first outlet that has its number, or at each catalyst."""
    rule = one.rule
    emitted = rule.kind in ("limit", "range")
    places = outlets(case.worked, state) if emitted else CATALYST_PLACES
    found = [each for place in places if (each := beside(case.worked, rule, place, state)) is not None]
    return tuple(found[:1] if emitted else found)


def can_be_judged(case: Case, one: Application) -> bool:
    """Tell whether the visit has the number of a row, or the readings under it."""
    rule = one.rule
    needed: tuple[str, ...] = (rule.quantity,)
    if rule.reference_oxygen is not None and rule.quantity in RAW:
        needed = (RAW[rule.quantity][0], OXYGEN)
    places = OUTLETS if rule.kind in ("limit", "range") else CATALYST_PLACES
    return any(
        all(name and number_at(case.worked, state, place, name) is not None for name in needed)
        for state in STATES
        for place in places
    )
