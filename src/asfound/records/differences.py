"""As found beside as left: what changed, by how much, and how sure that is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.records.view_parts import Difference

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.quantities.sheet import Worked
    from asfound.quantities.words import Reading, Result


def differences(worked: Worked) -> tuple[Difference, ...]:
    """Return every number that was read or worked out in both states, readings first.

    The interval is that of the difference draw by draw, so what one instrument does to both readings falls out of it.
    """
    return (*_pairs(worked, worked.readings), *_pairs(worked, worked.results))


def _pairs(worked: Worked, numbers: Iterable[Reading | Result]) -> list[Difference]:
    """Return the differences among numbers that lie at one place in both states."""
    found: dict[tuple[str, str, str], dict[str, Reading | Result]] = {}
    for one in numbers:
        sheet = getattr(one, "worksheet", "")
        found.setdefault((one.place, one.quantity, sheet), {})[one.state] = one
    return [
        _difference(worked, place, quantity, sheet, both["as_found"], both["as_left"])
        for (place, quantity, sheet), both in found.items()
        if len(both) == 2 and _both_known(both)
    ]


def _both_known(both: dict[str, Reading | Result]) -> bool:
    """Tell whether both have a value."""
    return all(one.value == one.value for one in both.values())


def _difference(
    worked: Worked, place: str, quantity: str, sheet: str, found: Reading | Result, left: Reading | Result
) -> Difference:
    """Return one difference, left minus found."""
    away = worked.difference(left, found)
    chance = away.probability_lower if away.value < 0 else 1.0 - away.probability_lower
    return Difference(
        key=f"{place}/{quantity}" + (f"/{sheet}" if sheet else ""),
        quantity=quantity,
        place=place,
        worksheet=sheet,
        found=found,
        left=left,
        difference=away.value,
        interval=away.interval,
        standard_uncertainty=away.standard_uncertainty,
        chance=chance if away.value else 0.5,
    )
