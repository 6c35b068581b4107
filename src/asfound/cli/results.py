"""`asfound results`, `findings`, `decide`: what the readings of a visit come to."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Literal

from asfound.cli.answer import BY_WHEN, answer, coloured, columns, ready, wrapped
from asfound.cli.calc import shown, trail
from asfound.cli.find import kept, opened, view_of, writer
from asfound.cli.options import Hand, Home
from asfound.errors import InputError, UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.quantities.words import Finding
    from asfound.records.visit import VisitView

System = Literal["site", "si", "us"]


def results(visit: str, key: str = "", /, *, units: System = "site", where: Home = Home()) -> None:
    """Show the results of a visit with interval, limit and source; with a key, one result and its whole trail.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    key
        Quantity, or state/place/quantity, of the results to show with their trail.
    units
        Units to show them in: site (as the people there use), si, us.
    """
    seen = view_of(opened(where), visit)
    from asfound.quantities.as_data import result_as_data

    system = _system(seen, units)
    chosen = [r for r in seen.worked.results if key in ("", r.quantity, r.key, r.worksheet)]
    if key and not chosen:
        raise UnknownNameError("result", key, [r.key for r in seen.worked.results])
    data = {
        "visit": seen.visit.name,
        "results": [result_as_data(r, seen.worked, system) | {"limits": _walls(seen, r.key)} for r in chosen],
        "missing": [
            {"worksheet": m.worksheet, "state": m.state, "place": m.place, "quantities": list(m.quantities)}
            for m in seen.worked.missing
        ],
        "differences": [
            {
                "key": d.key,
                "worksheet": d.worksheet,
                "found": ready(d.found.value),
                "left": ready(d.left.value),
                "difference": ready(d.difference),
                "interval": ready(d.interval),
                "changed": d.changed,
                "unit": d.found.unit,
            }
            for d in seen.differences
        ],
    }

    def told() -> Iterator[str]:
        if key:
            for one in chosen:
                yield coloured(f"{one.key} ({one.worksheet})", "head")
                yield from trail(one, seen.worked, system, indent="  ")
                yield from (f"  outside: {words}" for words in one.outside)
                yield from (f"  {w['name']} {w['as_typed']}: {w['chance']}" for w in _walls(seen, one.key))
            return
        rows = []
        for one in chosen:
            value, interval, unit = shown(one, system)
            walls = "; ".join(f"{w['name']} {w['as_typed']}: {w['chance']}" for w in _walls(seen, one.key))
            mark = " *" if one.assumed else ""
            rows.append((one.state.replace("_", " "), one.place, one.quantity + mark, value, unit, interval, walls))
        yield from columns(rows, ("state", "place", "result", "value", "unit", "95 in 100 within", "limit"), right=(3,))
        if any(one.assumed for one in chosen):
            yield "* something under it was assumed: see its trail, `asfound results VISIT RESULT`"
        if not rows:
            yield "No result yet."

    answer(where, data, told)


def _system(seen: VisitView, units: System) -> Literal["si", "us"]:
    chosen = seen.engine.units if units == "site" else units
    return "us" if chosen == "us" else "si"


def _walls(seen: VisitView, key: str) -> list[dict[str, Any]]:
    """Return the limits that concern a number, each with its chance of being beyond."""
    from asfound.quantities.display import chance

    return [
        {
            "name": one.limit.name, "as_typed": one.limit.as_typed, "value": one.limit.value, "side": one.limit.side,
            "text": one.limit.text, "probability_beyond": ready(one.beyond[key]),
            "chance": f"{chance(one.beyond[key])} {'over' if one.limit.side == 'upper' else 'under'}",
        }
        for one in seen.limit_states
        if key in one.beyond
    ]  # fmt: skip


def findings(visit: str, /, *, where: Home = Home()) -> None:
    """Show what the results and the looks mean, by when a hand is needed.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    """
    from asfound.records.visit import decision_key

    seen = view_of(opened(where), visit)
    decided = {key: dict(entry.content) for key, entry in seen.decisions.items()}
    data = [asdict(one) | {"decision": decided.get(decision_key(one))} for one in seen.findings]
    answer(where, data, lambda: _told(seen))


def _told(seen: VisitView) -> Iterator[str]:
    from asfound.quantities.display import chance
    from asfound.records.visit import decision_key

    for severity, words in BY_WHEN.items():
        of_these = [one for one in seen.findings if one.severity == severity]
        if of_these:
            yield coloured(words, severity)
        for one in of_these:
            sure = f" ({chance(one.probability)})" if one.probability is not None and not one.compared_with else ""
            sure += ", as left" if one.state == "as_left" else ""
            yield from wrapped(f"{one.code}  {one.says}{sure}", "  ")
            yield from wrapped(one.next_step, "         ")
            decision = seen.decisions.get(decision_key(one))
            if decision is not None:
                word = decision.content["decision"].replace("_", " ")
                yield from wrapped(f"{word} by {decision.who}: {decision.content.get('why', '')}", "         ")
    yield from (coloured(problem, "clash") for problem in seen.problems)
    if not seen.findings:
        yield "No finding. What was not looked at and not measured is not judged: see `asfound visit next`."


def decide(
    visit: str,
    code: str,
    decision: Literal["agreed", "set_aside", "done", "handed_on"],
    /,
    *,
    why: str = "",
    to_whom: str = "",
    nth: int | None = None,
    hand: Hand = Hand(),
) -> None:
    """Keep what was decided about a finding; the program advises only.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    code
        Code of the finding, as EX-03.
    decision
        agreed, set_aside, done or handed_on.
    why
        Why.
    to_whom
        Handed on to whom.
    nth
        Where several findings have this code: which of them, counted from 1 as `asfound findings` lists them.
    """
    records = opened(hand)
    seen = view_of(records, visit)
    found = _finding(seen, code, nth)
    content = {
        "code": found.code, "subject": found.subject, "about": list(found.because), "state": found.state,
        "decision": decision, "why": why, "to_whom": to_whom,
    }  # fmt: skip
    entry = records.append("finding_decision", content, visit=seen.id, who=writer(hand, records))
    answer(hand, kept(entry), lambda: [f"Kept: {found.code} {decision.replace('_', ' ')}"])


def _finding(seen: VisitView, code: str, nth: int | None) -> Finding:
    of_code = [one for one in seen.findings if one.code == code.upper()]
    if not of_code:
        raise UnknownNameError("finding of this visit", code, [one.code for one in seen.findings])
    if nth is None and len(of_code) > 1:
        listed = "; ".join(f"{n} {one.says}" for n, one in enumerate(of_code, 1))
        raise InputError("code", code, f"is the code of {len(of_code)} findings", allowed=listed, try_next="Say --nth.")
    if nth is not None and not 1 <= nth <= len(of_code):
        raise InputError("nth", str(nth), "is not one of them", allowed=f"1 to {len(of_code)}")
    return of_code[(nth or 1) - 1]
