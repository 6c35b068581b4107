"""How far a way of seeing can be trusted.

Error rates by way of seeing are start values (judgement, no source); a catalogue may bring its own, fitted from
confirmed visits. What is seen from outside with the engine running is seen less well where the catalogue's cell says
so: ``h`` high, ``m`` middle, ``l`` low.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from asfound.evidence.model import Kind
from asfound.fitout.catalogue import Character, Rates, Variant
from asfound.fitout.looks import HOWS, How

ERROR: Mapping[How, float] = {
    "read": 0.005,
    "in_hand": 0.02,
    "at_part": 0.05,
    "from_3m": 0.10,
    "photo": 0.12,
    "said": 0.50,
    "plate": 0.25,
    "paper": 0.25,
}
"""Chance that what is stated has nothing to do with what is there. [0 to 1]"""
FROM_OUTSIDE: tuple[How, ...] = ("at_part", "from_3m", "photo")
WIDENED = {"h": 0.0, "m": 0.04, "l": 0.15}
"""Added chance of error from outside by the reliability of the catalogue's cell."""
CHANGED_A_YEAR = 0.03
"""Chance that the part in a place is exchanged for another within a year and nobody writes it down: engineering
judgement, no source. [1/year]"""
AGES = (0.5, 1.0, 2.0, 5.0, 10.0, 25.0)
"""Ages that are told apart; one between two counts as the older. [years]"""
COULD_NOT_TELL = {"outside": 0.10, "at_the_part": 0.03}
"""Chance that a look ends without an answer."""


def kind_name(how: str, outside: str, age: float = 0.0) -> str:
    """Return the name of the kind of observation for a way of seeing, a reliability from outside, and an age in years.

    >>> kind_name("from_3m", "m"), kind_name("read", "m"), kind_name("read", "m", 0.7)
    ('from_3m/m', 'read', 'read@1')
    """
    name = f"{how}/{outside}" if how in FROM_OUTSIDE else how
    return _aged(name, next((one for one in AGES if age <= one), AGES[-1])) if age > 0 else name


def _aged(name: str, years: float) -> str:
    """Return the name of a kind whose look is so many years old."""
    return f"{name}@{years:g}"


def kinds(rates: Rates) -> tuple[Kind, ...]:
    """Return all kinds of observation with their error rates; the nameplate's own kinds are added by the plate."""
    found = []
    for how in HOWS:
        error = rates.kinds.get(how, ERROR[how])
        if how in FROM_OUTSIDE:
            found += [Kind(kind_name(how, grade), 1 - (1 - error) * (1 - more)) for grade, more in WIDENED.items()]
        else:
            found.append(Kind(how, error))
    return (*found, *_earlier(found))


def _earlier(kinds: Sequence[Kind]) -> list[Kind]:
    """Return the kinds of looks of earlier visits: right then, and the part is still the one that was seen."""
    return [
        Kind(_aged(one.name, years), 1 - (1 - one.error) * (1 - CHANGED_A_YEAR) ** years)
        for one in kinds
        for years in AGES
    ]


def reliability(character: Character, states: tuple[str, ...], variants: Mapping[str, Variant]) -> str:
    """Return how well from outside: the worst grade among the variants that show one of the states; ``m`` if none
    does.
    """
    grades = [
        one.outside
        for one in variants.values()
        if any(one.states.get(character.id, {}).get(state, 0.0) > 0.5 for state in states)
    ]
    return max(grades, key="hml".index) if grades else "m"
