"""Which quantity each column is, proposed with reasons: its words, its unit, its values, and how it moves with load.

A proposal is a score from 0 to 1 and the sentences behind it; nothing is decided for the person who knows the panel.
"""

from __future__ import annotations

from collections.abc import Mapping as MappingOf
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from asfound.errors import AmbiguousError, InputError, UnknownNameError
from asfound.history.column_words import Spoken, of_table, spoken, ways
from asfound.history.log_form import Column
from asfound.history.mapping import ColumnIs, scale_of, unit_of
from asfound.history.sniff_fields import head_and_unit
from asfound.quantities.constants import ATMOSPHERE
from asfound.quantities.pressure_kind import split_pressure, with_kind
from asfound.quantities.register import quantity
from asfound.quantities.typing import Array

TAKEN_FROM = 0.55
"""Score from which a proposal is taken without being asked."""
_SECOND = 0.1
_GENERAL = ("engine", "water", "air", "temperature", "pressure", "position", "cylinder", "left", "right", "gas", "flow")
_RISES = ("engine_power", "generator_power", "engine_load", "manifold_pressure", "fuel_flow", "throttle_position",
          "cylinder_exhaust_temperature", "fuel_actuator_position", "turbocharger_speed")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Candidate:
    """One thing that a column could be."""

    column: ColumnIs
    asks: str = ""
    """What stays open before it can be taken: gauge or absolute."""
    choices: tuple[str, ...] = ()
    """The units that would answer it."""


def candidates(
    column: Column, values: Array, *, load: Array | None = None, numbered: bool = False, most: int = 5
) -> tuple[Candidate, ...]:
    """Return what a column of numbers could be, best first.

    Parameters
    ----------
    column : Column
    values : array, shape (rows,)
        A sample of it, in the unit of the file; nan where nothing stood.
    load : array, optional
        Power or load in the same rows, in any unit, where a column of it is known.
    numbered : bool
        Columns with the same words and other numbers stand beside it.
    """
    said = spoken(head_and_unit(column.head)[0])
    found = []
    for name, match in _matches(said.concepts, said.unknown, bool(said.side) or said.number is not None):
        one = _weighed(name, match, column, said, values, load, numbered)
        if one is not None:
            found.append(one)
    found.sort(key=lambda one: -one.column.score)
    return tuple(found[:most])


@lru_cache(maxsize=4096)
def _matches(concepts: frozenset[str], unknown: tuple[str, ...], counted: bool) -> tuple[tuple[str, float], ...]:
    """Return the quantities whose words fit what a head speaks of, and how well."""
    have = (concepts - {"absolute", "gauge"}) | {f"word:{word}" for word in unknown}
    fits = ((name, max(_words_fit(have, way, counted) for way in sets)) for name, sets in ways().items())
    return tuple((name, match) for name, match in fits if match >= 0.3)


def _words_fit(have: frozenset[str], way: frozenset[str], counted: bool) -> float:
    """Return how much of what is said and of what the quantity wants is the same, weighed; 0 to 1."""
    have = have - ({"left", "right"} if counted else {"left", "right"} - way)
    shared = have & way
    if len(shared) < 2 and all(_weight(one) < 1.0 for one in shared):  # 'temperature' alone names nothing
        return 0.0 if have != way else 1.0
    both = sum(map(_weight, shared))
    alls = both + sum(map(_weight, way - have)) + 0.8 * sum(map(_weight, have - way))
    return both / alls if alls else 0.0


def _weight(concept: str) -> float:
    return 0.5 if concept in _GENERAL else 0.4 if concept.startswith("word:") else 1.0


def _weighed(
    name: str, match: float, column: Column, said: Spoken, values: Array, load: Array | None, numbered: bool
) -> Candidate | None:
    why = [f"the words of '{column.head}' fit {match:.0%}"]
    unit, asks, choices, fits = _unit(name, column.unit, said)
    if fits == 0.0:
        return None
    if column.unit:
        why.append(f"unit {column.unit}" + (f": {asks}" if asks else " fits"))
    else:
        why.append(f"no unit written; {unit} by its values" if unit else "no unit written")
    words = min(1.0, match / 0.6)  # unit and values alone say little: many quantities share them
    score = 0.62 * match + 0.18 * fits * words
    inside, unit = _range(name, column.unit, unit, values)
    if inside is not None:
        score += 0.2 * inside * words
        lines = "all" if inside > 0.995 else f"{inside:.0%}" if inside > 0.005 else "none"
        why.append(f"{lines} of its values lie where this quantity lies")
        if inside < 0.2:
            score *= 0.6
    else:
        score += 0.1 * words
    score *= 1.0 if name in of_table() else 0.75
    if load is not None and name in _RISES and len(values) == len(load):
        with_load = _moves(values, load)
        if with_load is not None:
            score += 0.05 if with_load > 0.4 else -0.05
            why.append(f"moves with load (rank correlation {with_load:.2f})")
    place = place_of(name, said, numbered)
    found = ColumnIs(head=column.head, unit=unit, quantity=name, place=place, score=min(0.99, score), why=tuple(why))
    return Candidate(found, asks, choices)


def _unit(name: str, written: str, said: Spoken) -> tuple[str, str, tuple[str, ...], float]:
    """Return the unit, what stays to be asked, the answers, and how well it fits (0: not at all)."""
    about = quantity(name)
    if not written:
        return ("1", "", (), 0.6) if about.units == ("1",) else ("", "", (), 0.4)
    if about.units == ("1",) and written in ("-", "1"):
        return "1", "", (), 1.0
    try:
        unit_of(name, written)
    except AmbiguousError as several:
        for kind in ("absolute", "gauge"):  # the head says which
            told = with_kind(split_pressure(written)[0], gauge=kind == "gauge")
            if kind in said.concepts and f"1 {told}" in several.choices:
                return told, "", (), 1.0
        texts = tuple(text.removeprefix("1 ").strip() for text in several.choices)
        return written, several.because, texts, 0.9
    except (InputError, UnknownNameError):
        return "", "", (), 0.0
    return written, "", (), 1.0


def _range(name: str, written: str, unit: str, values: Array) -> tuple[float | None, str]:
    """Return the share of values in the plausible range, and the unit; without one that which fits best."""
    known = values[np.isfinite(values)]
    if not len(known):
        return None, unit
    about = quantity(name)
    if written or unit == "1":
        tried = [unit]
    else:
        tried = [about.si_display, about.us_display, *about.units]
        tried = [with_kind(one, gauge=True) if about.gauge_possible else one for one in tried]
    shares = [(_share(name, one, known), one) for one in dict.fromkeys(tried)]
    best = max((one for one in shares if one[0] is not None), key=lambda one: one[0] or 0.0, default=(None, unit))
    return best if (written or best[0] is None or best[0] > 0.5) else (best[0], "")


def _share(name: str, unit: str, known: Array) -> float | None:
    """Return the share of values that lie in the plausible range; a gauge or absolute one is tried as both."""
    about = quantity(name)
    low, high = about.plausible
    try:
        scales = [scale_of(name, unit, ATMOSPHERE)]
    except AmbiguousError:
        core = split_pressure(unit)[0]
        try:
            scales = [scale_of(name, with_kind(core, gauge=gauge), ATMOSPHERE) for gauge in (True, False)]
        except (InputError, UnknownNameError):
            return None
    except (InputError, UnknownNameError):
        return None
    return max(float(np.mean((known * a + b >= low) & (known * a + b <= high))) for a, b in scales)


def _moves(values: Array, load: Array) -> float | None:
    """Return the rank correlation with load; None where one of the two stands still."""
    both = np.isfinite(values) & np.isfinite(load)
    if both.sum() < 30 or np.ptp(values[both]) == 0 or np.ptp(load[both]) == 0:
        return None
    ranks = [np.argsort(np.argsort(one[both], kind="stable"), kind="stable") for one in (values, load)]
    return float(np.corrcoef(ranks[0], ranks[1])[0, 1])


def place_of(name: str, said: Spoken, numbered: bool = False) -> str:
    """Return where a column's quantity is read: the cylinder, bearing, stage or bank that its head names."""
    places = quantity(name).places
    if "cylinder" in places and (said.number is not None):
        return f"cylinder_{said.side or said.number}"
    if "bearing" in places and said.number is not None:
        return f"bearing_{said.number}"
    if f"stage_{said.number}" in places:
        return f"stage_{said.number}"
    for side in ("left", "right"):
        if f"{side}_bank" in places and (side in said.concepts or said.side[:1] == side[0].upper()):
            return f"{side}_bank"
    usual = next((place for place in places if place not in ("cylinder", "bearing")), "engine")
    return f"run_{said.number}" if numbered and said.number is not None and usual == "engine" else usual


def assign(
    columns: Sequence[Column], values: MappingOf[str, Array]
) -> tuple[tuple[ColumnIs, ...], dict[str, tuple[Candidate, ...]]]:
    """Return a proposal for all columns of numbers, each channel given once, and the candidates of each.

    The column of power or load is looked for first: the others are held against it.
    """
    numeric = [column for column in columns if column.role == "number" and column.head]
    first = {column.head: candidates(column, values.get(column.head, np.empty(0))) for column in numeric}
    load = _load_of(first, values)
    found = {
        column.head: candidates(column, values.get(column.head, np.empty(0)), load=load) for column in numeric
    }  # fmt: skip
    offers = sorted(
        ((one.column.score, -at, head, one) for head, several in found.items() for at, one in enumerate(several)),
        key=lambda offer: (-offer[0], -offer[1]),
    )
    taken: dict[str, ColumnIs] = {}
    used: set[str] = set()
    for _, _, head, one in offers:
        if one.column.score < found[head][0].column.score - _SECOND:
            continue  # its own place is another's: better nothing than the second best
        if head not in taken and one.column.channel not in used:
            taken[head] = one.column
            used.add(one.column.channel)
    raw = [ColumnIs(head=column.head, unit=column.unit) for column in columns if column.head]
    return tuple(taken.get(one.head, one) for one in raw), found


def _load_of(found: MappingOf[str, tuple[Candidate, ...]], values: MappingOf[str, Array]) -> Array | None:
    best = [
        (one.column.score, head) for head, several in found.items() for one in several[:1]
        if one.column.quantity in ("engine_power", "generator_power", "engine_load") and one.column.score > 0.6
    ]  # fmt: skip
    return values[max(best)[1]] if best else None
