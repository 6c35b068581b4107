"""Units that one reader chose for kinds of quantities: they go before those of the unit system.

What a reader chose is one text, ``pressure:bar.gas:at_15``, so that a browser and the settings of a home can keep it.
The unit system says the rest. A choice holds for what is made within `showing`.
"""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache, lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from asfound.errors import InputError
from asfound.sources.tables import load_csv

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

SYSTEMS: Final = ("site", "si", "bar", "us")
"""As the site does; SI with kPa; SI with pressures in bar and mbar; US field units."""
_PRESETS: Final[Mapping[str, str]] = {"bar": "pressure:bar.barometer:mbar.draught:mbar"}
_NONE: Final[Mapping[str, str]] = MappingProxyType({})
_SHOWN: ContextVar[tuple[str, Mapping[str, str]]] = ContextVar("asfound_own_units", default=("", _NONE))
LONGEST: Final = 400


@cache
def choices() -> Mapping[str, Mapping[str, Mapping[str, str]]]:
    """Return what may be chosen: by group and choice, the unit of each kind of quantity."""
    found: dict[str, dict[str, dict[str, str]]] = {}
    for row in load_csv("asfound.quantities", "data/unit_choices.csv"):
        found.setdefault(row["group"], {}).setdefault(row["choice"], {})[row["kind"]] = row["unit"]
    return found


@lru_cache(maxsize=256)
def chosen(own: str) -> Mapping[str, str]:
    """Return the choice of each group in a text.

    Raises
    ------
    InputError
        It names a group or a choice that there is not, or one group twice.

    Examples
    --------
    >>> dict(chosen("pressure:bar.gas:at_15"))
    {'pressure': 'bar', 'gas': 'at_15'}
    """
    found: dict[str, str] = {}
    for part in own[:LONGEST].split(".") if own else ():
        group, _, choice = part.partition(":")
        allowed = choices().get(group)
        if allowed is None or group in found:
            raise InputError("own units", part, "is no kind of its own", allowed=", ".join(choices()))
        if choice not in allowed:
            raise InputError(f"own units, {group}", choice, "is no unit for it", allowed=", ".join(allowed))
        found[group] = choice
    return MappingProxyType(found)


def as_text(wanted: Mapping[str, str]) -> str:
    """Return choices by group as one text; empty ones are left out.

    >>> as_text({"gas": "at_15", "power": "", "pressure": "bar"})
    'pressure:bar.gas:at_15'
    """
    return ".".join(f"{group}:{wanted[group]}" for group in choices() if wanted.get(group))


@lru_cache(maxsize=256)
def units_of(system: str, own: str) -> Mapping[str, str]:
    """Return the unit of each kind that a reader sees otherwise than the unit system has it."""
    if not own and system not in _PRESETS:
        return _NONE
    found: dict[str, str] = {}
    for text in (_PRESETS.get(system, ""), own):
        for group, choice in chosen(text).items():
            found.update(choices()[group][choice])
    return MappingProxyType(found)


def shown_unit(kind: str) -> str | None:
    """Return the unit that whoever reads now chose for a kind of quantity; None where the unit system says it."""
    return _SHOWN.get()[1].get(kind)


def shown_system() -> str:
    """Return the unit system that whoever reads now chose; empty where that is left to the home."""
    return _SHOWN.get()[0]


def shown_units() -> tuple[tuple[str, str], ...]:
    """Return what whoever reads now sees in units of their own, for the key under which a text is kept."""
    return tuple(sorted(_SHOWN.get()[1].items()))


@contextmanager
def showing(system: str, own: str) -> Iterator[None]:
    """Show what follows in the units of a reader: one of `SYSTEMS` (or empty), and choices as one text."""
    token = _SHOWN.set((system, units_of(system, own)))
    try:
        yield
    finally:
        _SHOWN.reset(token)
