"""`asfound visit`: from opening it to the seal, and whether the seal holds."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Literal

from cyclopts import App

from asfound.cli import DONE, NO
from asfound.cli.answer import BY_WHEN, answer, coloured, columns, ready, wrapped
from asfound.cli.find import engine_name, kept, opened, tail, time_of, view_of, visit_of, writer
from asfound.cli.options import Hand, Home
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.records.visit import VisitView

visit = App(name="visit")


@visit.command(name="open")
def open_(
    engine: str,
    /,
    *,
    purpose: str = "",
    people: tuple[str, ...] = (),
    permit_until: str = "",
    at: str = "",
    again: bool = False,
    hand: Hand = Hand(),
) -> None:
    """Open a visit to an engine.

    Parameters
    ----------
    engine
        Tag of the engine.
    purpose
        What it is for.
    people
        Who is there; may be given several times.
    permit_until
        When the permit to work ends: 17:00, or a full time.
    at
        When it began, if not now.
    again
        Open one although another of this engine is still open.
    """
    from asfound.records.catalogues import catalogue_of

    records = opened(hand)
    found = records.engine(engine)
    still = [one for one in records.visits(found.id) if one.sealed is None]
    if still and not again:
        raise InputError(
            "engine", engine, f"has an open visit, {still[-1].name}", try_next="Go on with it, seal it, or say --again."
        )
    content: dict[str, Any] = {
        "purpose": purpose,
        "began": time_of(records, at),
        "people": list(people),
        "catalogue_digest": catalogue_of(records, found).digest,
    }
    if permit_until:
        content["permit_until"] = time_of(records, permit_until, field="permit_until")
    entry = records.append("visit_opened", content, engine=found.id, who=writer(hand, records))
    name = visit_of(records, entry.id).name
    answer(
        hand, kept(entry) | {"visit": name}, lambda: [f"Open: {name}", f"What is next: asfound visit next {found.tag}"]
    )


@visit.command(name="list")
def list_visits(engine: str = "", /, *, where: Home = Home()) -> None:
    """List the visits, oldest first.

    Parameters
    ----------
    engine
        Tag of an engine; without it, all.
    """
    records = opened(where)
    every = records.visits(engine or None)
    data = [
        {
            "id": one.id,
            "visit": one.name,
            "began": one.began,
            "purpose": one.content.get("purpose", ""),
            "sealed": one.sealed is not None,
        }
        for one in every
    ]
    rows = [(one.name, "sealed" if one.sealed else "open", one.content.get("purpose", "")) for one in every]
    answer(where, data, lambda: columns(rows, ("visit", "", "purpose")))


@visit.command
def show(name: str, /, *, entries: bool = False, where: Home = Home()) -> None:
    """Show a visit: as found and as left, findings, open points.

    Parameters
    ----------
    name
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    entries
        Every entry with its identifier instead, those taken back or put right marked.
    """
    seen = view_of(opened(where), name)
    if entries:
        data = [kept(one) | {"stands": _stands(seen, one.id), "corrects": one.corrects} for one in seen.entries_all]
        answer(where, data, lambda: _entries(seen))
        return
    answer(where, _as_dict(seen), lambda: _ledger(seen))


def _stands(seen: VisitView, entry: str) -> bool:
    return any(one.id == entry for one in seen.entries)


def _entries(seen: VisitView) -> Iterator[str]:
    rows = [
        (
            tail(one.id),
            one.at[11:16],
            one.who,
            one.kind,
            "" if _stands(seen, one.id) else "replaced",
            _short(one.content),
        )
        for one in seen.entries_all
    ]
    yield from columns(rows, ("entry", "at", "who", "kind", "", "what"))


def _short(content: Any) -> str:
    said = [
        str(content[k])
        for k in ("state", "place", "quantity", "slot", "character", "as_typed", "text", "says", "code")
        if content.get(k)
    ]
    states = content.get("states")
    return " ".join([*said, *(states or ())]) or ", ".join(f"{k}={v}" for k, v in list(content.items())[:3])


def _as_dict(seen: VisitView) -> dict[str, Any]:
    from asfound.quantities.as_data import result_as_data

    return {
        "id": seen.id,
        "visit": seen.visit.name,
        "engine": seen.engine.tag,
        "began": seen.visit.began,
        "purpose": seen.visit.content.get("purpose", ""),
        "sealed": seen.seal.content["digest"] if seen.seal else None,
        "engine_state": seen.engine_state,
        "readings": [
            {
                "key": one.key,
                "as_typed": one.as_typed,
                "value": ready(one.value),
                "gauge": one.gauge,
                "missing": one.missing,
                "standard_uncertainty": ready(one.standard_uncertainty),
                "said_by": one.said_by,
                "time": one.time,
                "entry": one.entry.id,
            }
            for one in seen.readings.values()
        ],
        "results": [result_as_data(one, seen.worked) for one in seen.worked.results],
        "findings": [asdict(one) for one in seen.findings],
        "open_points": [kept(one) for one in seen.open_points],
        "points_done_since": [kept(one) for one in seen.points_done.values()],
        "steps": {
            name: {"found": [s.found, s.found_of], "left": [s.left, s.left_of]} for name, s in seen.steps.items()
        },
        "conflicts": len(seen.conflicts),
        "problems": list(seen.problems),
    }


def _ledger(seen: VisitView) -> Iterator[str]:
    yield coloured(f"{seen.visit.name}  {engine_name(seen.engine)}", "head")
    yield f"{seen.visit.content.get('purpose', '')}  {'sealed' if seen.sealed else 'open'}; engine {seen.engine_state}"
    yield from wrapped(f"Next: {seen.next_thing.says} {seen.next_thing.why}")
    yield ""
    rows = [(s.title, f"{s.found} of {s.found_of}", f"{s.left} of {s.left_of}") for s in seen.steps.values()]
    yield from columns(rows, ("step", "as found", "as left"), right=(1, 2))
    yield ""
    pairs = dict.fromkeys(f"{one.place}/{one.quantity}" for one in seen.readings.values())
    taken = {
        state: {f"{o.place}/{o.quantity}": o.as_typed for o in seen.readings.values() if o.state == state}
        for state in ("as_found", "as_left")
    }
    rows = [(key, taken["as_found"].get(key, ""), taken["as_left"].get(key, "")) for key in pairs]
    yield from columns(rows, ("reading", "as found", "as left"), right=(1, 2))
    if seen.identification and seen.identification.builds:
        from asfound.cli.engines import believed

        yield ""
        yield f"What is fitted: {believed(seen.identification)}"
    if seen.findings:
        yield ""
        for one in seen.findings:
            yield coloured(f"{BY_WHEN[one.severity]}: {one.code} {one.says}", one.severity)
    for point in seen.open_points:
        done = point.content.get("done") or point.id in seen.points_done
        yield f"{'Done' if done else 'Open'}: {point.content['says']} ({tail(point.id)})"
    yield from (coloured(problem, "clash") for problem in seen.problems)
    if seen.conflicts:
        yield coloured(f"{len(seen.conflicts)} to settle: asfound settle {seen.engine.tag}", "clash")


@visit.command(name="next")
def next_(name: str, /, *, where: Home = Home()) -> None:
    """Say the one next thing to do, and what is still open with its minutes.

    Parameters
    ----------
    name
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    """
    seen = view_of(opened(where), name)
    first = seen.next_thing
    data = {"next": asdict(first), "still_open": [asdict(one) for one in seen.still_open]}

    def told() -> Iterator[str]:
        yield coloured(first.says + (f" ({first.minutes:g} min)" if first.minutes else ""), "head")
        yield from wrapped(first.why, "  ")
        rows = [
            (BY_WHEN.get(one.severity, ""), f"{one.minutes:g} min" if one.minutes else "", one.state_needed, one.says)
            for one in seen.still_open
        ]
        yield from columns(rows, ("by when", "", "engine", "still open"), right=(1,)) if rows else []

    answer(where, data, told)


@visit.command
def event(
    name: str,
    what: Literal["arrived", "running", "stopped", "isolated", "released", "changed", "permit", "left"],
    /,
    *,
    at: str = "",
    minutes: float | None = None,
    says: str = "",
    permit_until: str = "",
    hand: Hand = Hand(),
) -> None:
    """Keep what happened to the engine.

    It decides which looks are allowed from then on, and stands on the day's line.

    Parameters
    ----------
    name
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    what
        What happened.
    at
        When, if not now.
    minutes
        How long it took.
    says
        In words.
    permit_until
        With permit: the new end.
    """
    records = opened(hand)
    state = {"running": "running", "stopped": "stopped", "isolated": "isolated", "released": "stopped"}.get(what)
    content: dict[str, Any] = {
        "event": what,
        "time": time_of(records, at),
        "minutes": minutes,
        "says": says,
        "engine_state": state,
    }
    if permit_until:
        content["permit_until"] = time_of(records, permit_until, field="permit_until")
    entry = records.append("visit_state", content, visit=visit_of(records, name).id, who=writer(hand, records))
    answer(hand, kept(entry), lambda: [f"Kept: {what} {entry.content['time'][11:16]}"])


@visit.command
def seal(name: str, /, *, statement: str = "", hand: Hand = Hand()) -> None:
    """Seal a visit: a digest over all its entries. Afterwards only addenda are taken.

    The digest is chained to that of the seal before it on the same engine, and signed where this home has a key.

    Parameters
    ----------
    name
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    statement
        What the person states by closing.
    """
    from asfound.records.seal import seal as close

    records = opened(hand)
    found = visit_of(records, name)
    entry = close(records, found.id, who=writer(hand, records), statement=statement)
    answer(
        hand,
        kept(entry) | {"visit": found.name},
        lambda: [f"Sealed: {found.name}", f"SHA-256 {entry.content['digest']}"],
    )


@visit.command
def verify(name: str, /, *, where: Home = Home()) -> int:
    """Verify the seal of a visit: name every entry and file that is not as it was sealed.

    Reads the database and the files afresh. Exits 1 when the seal does not hold, or there is none.

    Parameters
    ----------
    name
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    """
    from asfound.records.seal import verify as check

    records = opened(where)
    found = visit_of(records, name)
    verification = check(records, found.id)
    data = verification.as_dict() | {"name": found.name}

    def told() -> Iterator[str]:
        signed = f", signed by {verification.signed_by[:16]}..." if verification.signed_by else ""
        counted = f"{verification.entries} entries, {verification.files} files, {verification.addenda} addenda{signed}"
        yield f"{found.name}: {'the seal holds' if verification.holds else 'THE SEAL DOES NOT HOLD'} ({counted})"
        yield from (
            coloured(f"  {fault.what.replace('_', ' ')}: {fault.says}", "stop") for fault in verification.faults
        )

    answer(where, data, told)
    return DONE if verification.holds else NO
