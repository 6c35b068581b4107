"""General rules beside an engine: what they ask of it, which rows concern it, and how one is put on the record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from asfound.errors import AsFoundError, UnknownNameError
from asfound.exhaust.limits_of_case import facts_of
from asfound.exhaust.rule_facts import FACTS, EngineFacts
from asfound.records.rules import duties_for, keep_facts, put_on_record, rules_for
from asfound.web import words
from asfound.web.forms import acting, text
from asfound.web.pages import Crumb, go, house_of, page, prefs_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.exhaust.duties import Concerns
    from asfound.exhaust.limits import Application

TITLES = {
    "jurisdictions": "Where it stands", "power": "Power at the shaft", "thermal_input": "Heat input of the plant, net",
    "fuel": "Gas", "burn": "Burn, by the rule's definition", "strokes": "Strokes", "ignition": "Ignition",
    "made": "Made on", "built": "Construction began on", "existing": "Counted as existing",
    "modified": "Modified or reconstructed", "emergency": "Emergency engine", "source": "Source of the site",
    "remote": "Remote, by the rule's definition", "over_24_h": "Runs more than 24 h a year", "certified": "Certified",
    "by_instructions": "Kept by its certificate's instructions", "catalyst": "Catalyst", "hours_a_year": "Hours a year",
}  # fmt: skip
LONGEST = 200


def show_rules(
    request: Request, *, complaints: Mapping[str, str] | None = None, typed: Mapping[str, str] | None = None
) -> Response:
    """Show the facts that rules ask for, the rows that concern this engine, and what they ask of its owner."""
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    base = house.engine_base(engine)
    beside = rules_for(house.records, engine, house.records.clock.now().date())
    said = {name: str(value) for name, value in engine.content.get("rules", {}).items()} | dict(typed or {})
    return page(
        request,
        "rules.html",
        title=f"General rules, {engine.tag}",
        status=422 if complaints else 200,
        crumbs=(Crumb("/", "Engines"), Crumb(base, engine.tag), Crumb(f"{base}/rules", "General rules")),
        engine=engine,
        base=base,
        beside=beside,
        slips=facts_of(engine.content)[1],
        groups=(("Apply", _by_text(beside.applying)), ("May apply", _by_text(beside.may_apply))),
        fields=[_field(name, said.get(name, ""), (complaints or {}).get(name, "")) for name in FACTS],
        asked=_by_topic(duties_for(engine)),
        ask=FACTS,
        titles=TITLES,
        complaints=complaints or {},
    )


def _field(name: str, value: str, complaint: str) -> dict[str, Any]:
    """Return one fact as a field of the form."""
    fact = FACTS[name]
    choices = tuple((word, word.replace("_", " ")) for word in fact.words)
    if fact.kind == "yes_no":
        choices = (("yes", "yes"), ("no", "no"))
    return {
        "name": name,
        "title": TITLES[name],
        "value": value,
        "asks": words.sentence(fact.ask),
        "choices": (("", "not known"), *choices) if choices else (),
        "date": fact.kind == "date",
        "complaint": complaint,
    }


def _by_text(rows: Iterable[Application]) -> list[tuple[str, str, list[Application]]]:
    """Return rows by the text that they stand in, with how it was seen."""
    found: dict[tuple[str, str], list[Application]] = {}
    for one in rows:
        found.setdefault((one.rule.where, one.rule.status_words), []).append(one)
    return [(where, status, ones) for (where, status), ones in found.items()]


def _by_topic(asked: Iterable[Concerns]) -> list[tuple[str, list[Concerns]]]:
    """Return duties by their topic."""
    found: dict[str, list[Concerns]] = {}
    for one in asked:
        found.setdefault(one.duty.topic, []).append(one)
    return list(found.items())


def keep(request: Request, form: FormData) -> Response:
    """Keep the facts that changed; nothing is kept where one cannot be."""
    house, prefs = house_of(request), prefs_of(request)
    engine = house.records.engine(request.path_params["engine"])
    typed = {name: text(form, name)[:LONGEST] for name in FACTS if name in form}
    before = engine.content.get("rules", {})
    changed = {name: value for name, value in typed.items() if value != before.get(name, "")}
    complaints: dict[str, str] = {}
    for name, value in changed.items():
        try:
            EngineFacts.of({name: value})
        except AsFoundError as refused:
            complaints[name] = str(refused)
    if complaints:
        return show_rules(request, complaints=complaints, typed=typed)
    if changed:
        keep_facts(house.records, engine, changed, who=prefs.who)
    return go(f"{house.engine_base(engine)}/rules#rows")


def put(request: Request, form: FormData) -> Response:
    """Put a general row on the record as a limit."""
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    beside = rules_for(house.records, engine, house.records.clock.now().date())
    row = next((one.rule for one in beside.general if one.rule.id == text(form, "row")), None)
    if row is None:
        raise UnknownNameError("row of a rule for this engine", text(form, "row"), [])
    put_on_record(house.records, engine, row, who=prefs_of(request).who)
    return go(f"{house.engine_base(engine)}#limits")


ROUTES = [
    Route("/engines/{engine}/rules", show_rules),
    Route("/engines/{engine}/rules", acting(keep), methods=["POST"]),
    Route("/engines/{engine}/rules/put", acting(put), methods=["POST"]),
]
