"""Everything that follows from the entries of a visit, put together once for all doors."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.errors import AsFoundError
from asfound.fitout.engine_facts import EngineFacts
from asfound.fitout.identify import identify
from asfound.quantities.findings import Case, find_all
from asfound.quantities.register import quantities
from asfound.records import readings as taken
from asfound.records import sheet_of_visit
from asfound.records.catalogues import catalogue_of
from asfound.records.differences import differences
from asfound.records.kept_draws import remembering
from asfound.records.limits_at_oxygen import on_one_level
from asfound.records.logs_of_engine import kept_look_of, said_by_log
from asfound.records.looks_before import look_of, looks_before
from asfound.records.model_witness import model_witness
from asfound.records.points import points_done
from asfound.records.seal import AFTER_SEAL
from asfound.records.sealed_look import look_known_at_seal
from asfound.records.steps import as_found_set, progress
from asfound.records.still_open import still_open
from asfound.records.trouble import told_of
from asfound.records.unit_system import system_of
from asfound.records.upkeep_of_engine import of_kind, upkeep_of
from asfound.records.view_parts import LimitState, Previous, concerns
from asfound.records.visit import VisitView

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from asfound.fitout.catalogue import Catalogue
    from asfound.fitout.identification import Identification
    from asfound.fitout.looks import SeenLook
    from asfound.quantities.findings import Find
    from asfound.quantities.sheet import Worked
    from asfound.quantities.words import Limit, Reading, Result
    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord, VisitRecord
    from asfound.records.view_parts import KeptReading

STATES_ALLOWED = {
    "running": ("running",),
    "stopped": ("running", "stopped"),
    "isolated": ("running", "stopped", "isolated"),
}
"""Looks that may be made in each state of the engine: most of what is seen while it runs is seen when it stands."""


def compute(records: Records, visit: VisitRecord, rooms: Mapping[str, Find] | None = None) -> VisitView:
    """Return the view of a visit, with what all rooms find, or those that are given."""
    engine = records.engine(visit.engine)
    folded = records.fold(engine.id, visit.id)
    entries = folded.current
    problems = [
        f"Entry {one.id} is damaged and left out; verify the record, and fetch a backup."
        for one in entries
        if one.kind == "damaged"
    ]
    all_readings = taken.kept(folded, records.instruments())
    readings = taken.latest(all_readings)
    problems += taken.doubts(readings.values())
    limits = _known_limits(taken.limits_on(records.fold(engine.id), visit.date), problems)
    limits, on_level, level = on_one_level(limits, readings, visit.began)
    worked = sheet_of_visit.worked(records, visit, engine, entries, on_level, limits, problems, level)
    engine_state = _engine_state(entries)
    facts = _facts(engine, engine_state, readings)
    looks = {one.id: look_of(one) for one in entries if one.kind == "look"}
    earlier = looks_before(records, engine, visit, [one for one in entries if one.kind == "look"])
    found_now, found_before = _identified(records, engine, visit, facts, entries, looks, earlier, problems)
    previous = _previous(records, engine, visit)
    upkeep = _upkeep(records, engine, visit)
    look = look_known_at_seal(records, visit, problems) if visit.sealed else kept_look_of(records, engine)
    case = Case(
        readings=worked.readings,
        worked=worked,
        limits=limits,
        identification=found_now,
        engine={
            **engine.content,
            "emission_tests": _earlier_tests(records, engine, visit),
            "combustion": _combustion(records, engine),
            "history": look,
        },
        visit={
            **visit.content,
            "system": system_of(records, engine),
            "engine_state": engine_state,
            "date": visit.date,
            "name": visit.name,
            "emission_tests": sheet_of_visit.emission_tests(entries),
            **upkeep,
            "cylinder_looks": [dict(one.content) for one in entries if one.kind == "cylinder_look"],
            "settings": [{**one.content, "entry": one.id} for one in entries if one.kind == "setting"],
            "trouble": told_of(records, visit, entries, problems),
            "usual_exhaust_pattern": look.pattern if look else None,
            **said_by_log(look, visit.date, system_of(records, engine)),
            "draws_known": remembering(records),
            "model_witness": model_witness(
                worked, engine.content, previous.worked if previous else None, remembering(records)
            ),
        },
        previous=previous.worked if previous else None,
    )
    findings = find_all(case, rooms=rooms, faults=problems)
    of_kind = _by_kind(entries)
    seal = visit.sealed
    sealed_ids = {str(one["id"]) for one in seal.content["entries"]} if seal else set()
    decisions = {_about_finding(one): one for one in of_kind.get("finding_decision", ())}
    open_points = tuple(sorted(of_kind.get("open_point", ()), key=lambda one: (bool(one.content.get("done")), one.id)))
    others = (*of_kind.get("setting", ()), *of_kind.get("photo", ()))
    steps = progress(as_found_set(engine.content), readings, others, found_now)
    all_entries = records.entries(visit=visit.id)
    seals = [one for one in all_entries if one.kind == "sealed"]
    if len(seals) > 1:
        who = ", ".join(f"{one.who} at {one.at}" for one in seals)
        problems.append(f"This visit was closed {len(seals)} times, on laptops that did not know of each other: {who}.")
    return VisitView(
        id=visit.id,
        engine=engine,
        site=engine.site,
        visit=visit,
        facts=facts,
        engine_state=engine_state,
        system=system_of(records, engine),
        entries=entries,
        entries_all=all_entries,
        replaced=folded.replaced,
        void=folded.void,
        conflicts=folded.conflicts,
        readings=readings,
        readings_all=tuple(all_readings),
        instruments=records.instruments(),
        limits=limits,
        limit_states=_limit_states(worked, limits),
        looks=tuple(looks.values()),
        looks_before=earlier,
        notes=of_kind.get("note", ()),
        photos=of_kind.get("photo", ()),
        settings=of_kind.get("setting", ()),
        open_points=open_points,
        points_done=points_done(records, engine.id, open_points, folded.replaced),
        decisions=decisions,
        addenda=of_kind.get("addendum", ()),
        seal=seal,
        late=tuple(
            one for one in all_entries if seal is not None and one.kind not in AFTER_SEAL and one.id not in sealed_ids
        ),
        worked=worked,
        identification=found_now,
        identification_found=found_before,
        findings=findings,
        case=replace(case, found=findings),
        differences=differences(worked),
        steps=steps,
        still_open=() if seal else still_open(steps, open_points, found_now, of_kind.get("photo", ()), limits, worked),
        minute=lambda: records.clock.now().isoformat(timespec="minutes"),
        previous=previous,
        due=upkeep["due"],
        problems=(*problems, *upkeep["due"].problems),
    )


def _upkeep(records: Records, engine: EngineRecord, visit: VisitRecord) -> dict[str, Any]:
    """Return what is due on the engine, its failures and orders: today, or as they were known at the seal."""
    until = visit.sealed.id if visit.sealed else None
    day = date.fromisoformat(visit.date) if visit.sealed else records.clock.now().date()
    told = {
        name: [dict(one.content) | {"entry": one.id} for one in of_kind(records, engine.id, kind, day, until=until)]
        for name, kind in (("failures", "failure"), ("work_orders", "work_order"))
    }
    return {"due": upkeep_of(records, engine, day, until=until), **told}


def _combustion(records: Records, engine: EngineRecord) -> str:
    """Return the words of the catalogue for how an engine of this family burns; empty where it knows none."""
    try:
        return catalogue_of(records, engine).families[str(engine.content.get("family", ""))].combustion
    except (AsFoundError, KeyError):
        return ""


def _known_limits(limits: Sequence[Limit], problems: list[str]) -> tuple[Limit, ...]:
    """Return the limits of quantities that this program knows."""
    known = quantities()
    problems += [
        f"Limit {one.as_typed}: this program knows no quantity '{one.quantity}'; it is not compared with."
        for one in limits
        if one.quantity not in known
    ]
    return tuple(one for one in limits if one.quantity in known)


def _identified(
    records: Records,
    engine: EngineRecord,
    visit: VisitRecord,
    facts: EngineFacts,
    entries: Sequence[Entry],
    looks: Mapping[str, SeenLook],
    earlier: Sequence[SeenLook],
    problems: list[str],
) -> tuple[Identification | None, Identification | None]:
    """Return what is believed to be fitted, now and as found."""
    look_entries = [one for one in entries if one.kind == "look"]
    changed = {one.content["slot"] for one in look_entries if one.content.get("state") == "as_left"}
    found = [one for one in look_entries if one.content.get("state") != "as_left"]
    now = [one for one in look_entries if one.content.get("state") == "as_left" or one.content["slot"] not in changed]
    try:
        catalogue = catalogue_of(records, engine)
        before = _identify(
            records, catalogue, facts, [*earlier, *(looks[one.id] for one in found)], ("found", visit.id)
        )
        after = before
        if changed:
            kept = [one for one in earlier if one.slot not in changed]
            after = _identify(records, catalogue, facts, [*kept, *(looks[one.id] for one in now)], ("now", visit.id))
    except AsFoundError as fault:
        problems.append(f"What is fitted could not be worked out: {fault}")
        return None, None
    return after, before


def _identify(
    records: Records, catalogue: Catalogue, facts: EngineFacts, looks: list[SeenLook], slot: tuple[str, ...]
) -> Identification:
    """Return an identification; from memory when no look has changed."""
    key = ("identified", catalogue.digest, repr(facts), tuple(looks))
    found: Identification = records.remembered(
        key, lambda: identify(catalogue, facts, looks, allowed=STATES_ALLOWED[facts.state]), slot=slot
    )
    return found


def _previous(records: Records, engine: EngineRecord, visit: VisitRecord) -> Previous | None:
    """Return the visit before this one with its sheet."""
    earlier = [one for one in records.visits(engine.id) if (one.began, one.id) < (visit.began, visit.id)]
    if not earlier:
        return None
    before = earlier[-1]
    folded = records.fold(engine.id, before.id)
    readings = taken.latest(taken.kept(folded, records.instruments()))
    limits = _known_limits(taken.limits_on(records.fold(engine.id), before.date), [])
    limits, on_level, level = on_one_level(limits, readings, before.began)
    sheet = sheet_of_visit.worked(records, before, engine, folded.current, on_level, limits, [], level)
    looks = tuple(dict(one.content) for one in folded.current if one.kind == "cylinder_look")
    return Previous(visit=before, worked=sheet, cylinder_looks=looks)


def _earlier_tests(records: Records, engine: EngineRecord, visit: VisitRecord) -> list[dict[str, Any]]:
    """Return the formal tests of the engine's visits before this one."""
    earlier = [one for one in records.visits(engine.id) if (one.began, one.id) < (visit.began, visit.id)]
    told = records.standing_with(engine.id, "emission_test", ('"test":',))
    return [test for one in earlier for test in sheet_of_visit.emission_tests(told.get(one.id, ()))]


def _facts(engine: EngineRecord, state: str, readings: Mapping[str, KeptReading]) -> EngineFacts:
    """Return what identification is told of the engine."""
    content = engine.content
    layout = content.get("layout") or {}
    driven = str(content.get("driven", ""))
    turbochargers = content.get("turbochargers")
    sulphide = next((one.value for one in readings.values() if one.quantity == "fuel_hydrogen_sulfide"), None)
    return EngineFacts(
        tag=engine.tag,
        family=str(content.get("family", "")),
        works_number=str(content.get("works_number", "")),
        driven=driven if driven in ("compressor", "generator") else "",  # type: ignore[arg-type]
        layout=layout.get("form", ""),
        cylinders=int(layout.get("cylinders", 0)),
        turbochargers=turbochargers["count"] if turbochargers else None,
        catalyst=content.get("catalyst"),
        bearings_measured=content.get("bearings_measured"),
        state=state,  # type: ignore[arg-type]
        plate=dict(content.get("plate") or {}),
        in_store=tuple(content.get("in_store", ())),
        papers=tuple(content.get("papers", ())),
        hydrogen_sulphide=sulphide,
    )


def _engine_state(entries: Sequence[Entry]) -> str:
    """Return the state of the engine by the last event that said so; running until somebody says otherwise."""
    events = [one.content for one in entries if one.kind == "visit_state" and one.content.get("engine_state")]
    return str(max(events, key=lambda one: str(one["time"]))["engine_state"]) if events else "running"


def _limit_states(worked: Worked, limits: Sequence[Limit]) -> tuple[LimitState, ...]:
    """Return each limit with the numbers that it concerns and their probability of being beyond it."""
    made = []
    for limit in limits:
        known: tuple[Result | Reading, ...] = (*worked.results, *worked.readings)
        numbers = [
            one
            for one in known
            if one.quantity == limit.quantity and concerns(limit, one.place) and one.value == one.value
        ]
        made.append(
            LimitState(
                limit=limit,
                found=tuple(one for one in numbers if one.state == "as_found"),
                left=tuple(one for one in numbers if one.state == "as_left"),
                beyond={one.key: worked.probability_beyond(one, limit) for one in reversed(numbers)},
            )
        )
    return tuple(made)


def _by_kind(entries: Sequence[Entry]) -> dict[str, tuple[Entry, ...]]:
    """Return entries by kind, in order."""
    found: dict[str, tuple[Entry, ...]] = {}
    for one in entries:
        found[one.kind] = (*found.get(one.kind, ()), one)
    return found


def _about_finding(decision: Entry) -> str:
    """Return the key of the finding that a decision is about; see ``visit.decision_key``."""
    content: Mapping[str, Any] = decision.content
    return "|".join((str(content["code"]), str(content.get("state", "as_found")), *sorted(content.get("about", ()))))
