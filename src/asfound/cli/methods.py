"""`asfound method`: numbers that several ways lead to, how far they agree, and which way is taken."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.cli.answer import answer, coloured, columns, ready, wrapped
from asfound.cli.calc import shown
from asfound.cli.find import kept, opened, time_of, view_of, writer
from asfound.cli.options import Hand
from asfound.errors import InputError, UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.quantities.agreement import Agreement, Beside
    from asfound.quantities.words import Reading, Result
    from asfound.records.visit import VisitView

WORDS = {
    "agree": "agrees",
    "small": "a little apart, inside the doubt of the one taken",
    "apart": "stands apart",
}


def method(visit: str, choice: str = "", /, *, why: str = "", at: str = "", hand: Hand = Hand()) -> None:
    """Show where several ways lead to one number and how far they agree; choose the way that is taken.

    asfound method A2                                            lists them
    asfound method A2 excess_air_ratio=mixture_from_oxygen       takes this one
    asfound method A2 excess_air_ratio=                          takes again what the program prefers

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    choice
        quantity=worksheet; or a quantity, to see only that.
    why
        Why this way is taken.
    at
        When, if not now.
    """
    records = opened(hand)
    seen = view_of(records, visit)
    quantity, equals, worksheet = (part.strip() for part in choice.partition("="))
    if not equals:
        _list(seen, quantity, hand)
        return
    _check(quantity, worksheet)
    content = {"quantity": quantity, "worksheet": worksheet, "why": why, "time": time_of(records, at)}
    entry = records.append("method_choice", content, visit=seen.id, who=writer(hand, records))
    says = f"taken from {worksheet}" if worksheet else "taken as the program prefers"
    answer(hand, kept(entry), lambda: [f"Kept: {quantity} is {says}."])


def _check(quantity: str, worksheet: str) -> None:
    """Refuse a way that leads somewhere else."""
    from asfound.quantities.register import quantity as register
    from asfound.quantities.worksheets import load

    register(quantity)
    givers = [name for name, sheet in load().items() if quantity in sheet.gives]
    if worksheet and worksheet not in load():
        raise UnknownNameError("worksheet", worksheet, givers or load())
    if worksheet and worksheet not in givers:
        allowed = ", ".join(givers) or "no worksheet: it can only be read"
        raise InputError(quantity, worksheet, "does not lead to it", allowed=allowed)


def _list(seen: VisitView, quantity: str, hand: Hand) -> None:
    """Show every number that several ways lead to, or those of one quantity."""
    found = [one for one in seen.worked.agreements if quantity in ("", one.taken.quantity, one.key)]
    if quantity and not found:
        raise UnknownNameError("number with several ways", quantity, [one.key for one in seen.worked.agreements])
    data = {"visit": seen.visit.name, "chosen": dict(seen.worked.chosen), "numbers": [_as_dict(one) for one in found]}
    answer(hand, data, lambda: _told(seen, found))


def _told(seen: VisitView, found: list[Agreement]) -> Iterator[str]:
    if not found:
        yield "No number of this visit is come by in more than one way."
    for one in found:
        worst = "clash" if one.verdict == "apart" else "head"
        yield coloured(f"{one.key}: {_verdict(one)}", worst)
        rows = [_row(seen, one.taken, "taken")]
        rows += [_row(seen, other.number, f"{_sign(other)} {WORDS[other.verdict]}") for other in one.others]
        yield from columns(rows, ("  way", "value", "95 in 100 within", "unit", ""), right=(1,))
        for other in one.others:
            if other.verdict == "apart" and (other.only_here or other.only_taken):
                behind = ", ".join((*other.only_here, *other.only_taken))
                yield from wrapped(f"Behind it may be: {behind}", "  ")


def _verdict(agreement: Agreement) -> str:
    ways = len(agreement.numbers)
    return (
        f"{ways} ways, "
        + {
            "agree": "they agree",
            "small": "they agree as far as it matters",
            "apart": "they do not agree",
        }[agreement.verdict]
    )


def _sign(other: Beside) -> str:
    base = abs(other.number.value - other.difference.value)
    return f"{100 * other.difference.value / base:+.1f} %" if base else ""


def _row(seen: VisitView, number: Result | Reading, says: str) -> tuple[str, ...]:
    from asfound.quantities.words import Result

    if isinstance(number, Result):
        value, interval, unit = shown(number, seen.system)
        return f"  {number.worksheet}", value, interval, unit, says
    by = number.said_by.partition(" (")[0].partition(", ")[0]
    return f"  read{f', {by}' if by else ''}", number.as_typed, "", "", says


def _as_dict(agreement: Agreement) -> dict[str, Any]:
    return {
        "key": agreement.key,
        "verdict": agreement.verdict,
        "taken": _way(agreement.taken),
        "others": [
            {
                **_way(one.number),
                "verdict": one.verdict,
                "difference": ready(one.difference.value),
                "interval": ready(one.difference.interval),
                "in_doubts": ready(one.in_doubts),
                "only_here": list(one.only_here),
                "only_taken": list(one.only_taken),
            }
            for one in agreement.others
        ],
    }


def _way(number: Result | Reading) -> dict[str, Any]:
    worksheet = getattr(number, "worksheet", "")
    return {"worksheet": worksheet, "read": not worksheet, "value": ready(number.value), "unit": number.unit}
