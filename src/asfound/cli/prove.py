"""`asfound prove`: the evidence that a permit officer or a quality system asks for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from cyclopts import Parameter

from asfound.cli import DONE, NO
from asfound.cli.answer import answer, coloured, columns, steps
from asfound.cli.options import Out

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.sources.prove import Check


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class What:
    """Which checks."""

    room: tuple[str, ...] = ()
    """Only this room; may be given several times."""
    missed: bool = False
    """Print only those that do not hold."""


def prove(what: What = What(), out: Out = Out()) -> int:
    """Recompute every published value shipped with the program, on this machine.

    Prints value, published value, deviation, tolerance and source of each. Exits 1 when any does not hold.
    """
    from asfound.sources.prove import checks_of, rooms_with_checks

    rooms = tuple(dict.fromkeys(what.room)) or rooms_with_checks()
    checks = [check for room in steps(rooms, "Recomputing") for check in checks_of(room)]
    shown = [check for check in checks if not (what.missed and check.holds)]
    answer(out, [check.as_dict() for check in shown], lambda: _table(shown, checks))
    return DONE if checks and all(check.holds for check in checks) else NO


def _table(shown: list[Check], checks: list[Check]) -> Iterator[str]:
    from asfound.sources.register import cite

    for room in dict.fromkeys(check.room for check in shown):
        of_room = [check for check in shown if check.room == room]
        yield coloured(f"{room} ({len(of_room)})", "head")
        rows = [
            (
                "" if check.holds else "MISSED",
                check.check,
                f"{check.value:.9g}",
                f"{check.published:.9g}",
                f"{check.deviation:+.2g}",
                f"{check.tolerance:.2g}",
                check.unit,
                cite(check.source, check.clause),
            )
            for check in of_room
        ]
        head = ("", "check", "value", "published", "deviation", "tolerance", "unit", "source")
        yield from columns(rows, head, right=(2, 3, 4, 5))
        yield ""
    missed = sum(not check.holds for check in checks)
    if not checks:
        yield "No room here brings published values: nothing was proved."
    else:
        yield f"{len(checks)} published values recomputed, {missed} missed"
