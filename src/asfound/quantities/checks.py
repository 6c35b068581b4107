"""Every published value of this room, computed again: what `asfound prove` asks for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.quantities import checks_uncertainty, checks_units

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.sources.prove import Check


def checks() -> Iterator[Check]:
    """Yield the checks of units, numbers in text and rounding, then those of uncertainty and conformity."""
    yield from checks_units.checks()
    yield from checks_uncertainty.checks()
