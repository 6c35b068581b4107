"""What is worked out from what, and in which order: it depends on which readings there are, not on their values.

The rules, in the order in which an input is looked for:

1. in the same state: at the place itself, else at the wider places (its bank, `engine`, then `site`); at each place
   comes first the result of the method that somebody chose for the quantity, then a reading, then of several results
   that of the worksheet registered first;
2. a quantity that carries over (site height, permit values, fuel analysis): the same in the other state;
3. assumed, where the worksheet says so; else its default, where the input is optional; else it is missing.

An input with ``each`` is looked for at every place of its pattern, and only there.

A worksheet runs at each place where one of its own 'same' inputs lies. It never runs on a number that was itself worked
out from what the worksheet would give. A gauge pressure also takes the barometer of its own state.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cache, lru_cache
from typing import NamedTuple

from asfound.quantities.order import BAROMETER, groups_in_order
from asfound.quantities.words import STATES, State
from asfound.quantities.worksheets import SAME, Assumption, Take, Worksheet

WIDER_PLACES = ("engine", "site")
BANKS = {"L": "left_bank", "R": "right_bank", "A": "left_bank", "B": "right_bank"}
OF_A_ROW = re.compile(r"cylinder_([LRAB])[0-9]+\Z")


class Spot(NamedTuple):
    """Where a number lies: state, place, quantity."""

    state: State
    place: str
    quantity: str

    @property
    def key(self) -> str:
        """``state/place/quantity``, as in `Reading` and `Result`."""
        return f"{self.state}/{self.place}/{self.quantity}"


class Read(NamedTuple):
    """An input that is a reading; a gauge pressure names its barometer."""

    spot: Spot
    barometer: Read | Made | None = None


class Made(NamedTuple):
    """An input that is the result of a worksheet."""

    spot: Spot
    worksheet: str


class Assumed(NamedTuple):
    """An input that nobody read and the worksheet assumes."""

    spot: Spot
    assumption: Assumption


class Default(NamedTuple):
    """An optional input that nobody read."""

    value: float | None


class Several(NamedTuple):
    """An input from each place of a pattern, in the order of the places."""

    parts: tuple[Read | Made, ...]


Origin = Read | Made | Assumed | Default | Several


@dataclass(frozen=True, slots=True)
class Step:
    """One worksheet at one place and state, with where each input comes from."""

    worksheet: Worksheet
    state: State
    place: str
    inputs: tuple[Origin, ...]
    gives: tuple[Made, ...]
    """Its results, in the order of the formula's answers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """A worksheet that cannot run at a place: what to read there, and how much of its inputs is there already."""

    worksheet: str
    state: State
    place: str
    quantities: tuple[str, ...]
    """What nobody read and nothing gives."""
    found: tuple[str, ...] = ()
    """Inputs that are there."""


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """Steps in the order of their dependence, and what cannot be worked out."""

    steps: tuple[Step, ...]
    missing: tuple[Missing, ...]


@lru_cache(maxsize=128)
def plan(
    readings: tuple[tuple[Spot, bool], ...],
    worksheets: tuple[Worksheet, ...],
    carrying: frozenset[str],
    without: frozenset[Made] = frozenset(),
    only: frozenset[str] | None = None,
    chosen: tuple[tuple[str, str], ...] = (),
) -> Plan:
    """Return what to work out, in order.

    Parameters
    ----------
    readings : tuple of (Spot, bool)
        Where each reading lies and whether it is a gauge pressure; sorted. The barometer itself never is.
    worksheets : tuple of Worksheet
        In the order of preference.
    carrying : frozenset of str
        Quantities that hold for both states unless taken again.
    without : frozenset of Made
        Results that turned out to have no answer: planned around.
    only : frozenset of str, optional
        Names of the worksheets wanted; what they need is planned too.
    chosen : tuple of (str, str)
        Quantities with the worksheet that somebody chose for each.
    """
    planner = _Planner(dict(readings), worksheets, carrying, without, dict(chosen))
    planner.run()
    return Plan(*planner.chosen(only))


class _Planner:
    """The state of planning: what is there so far, and what lies under it."""

    def __init__(
        self,
        readings: Mapping[Spot, bool],
        worksheets: tuple[Worksheet, ...],
        carrying: frozenset[str],
        without: frozenset[Made],
        choice: Mapping[str, str],
    ) -> None:
        self.choice = choice
        self.readings, self.worksheets, self.carrying, self.without = readings, worksheets, carrying, without
        self.rank = {sheet.name: at for at, sheet in enumerate(worksheets)}
        self.made: dict[Spot, list[Made]] = {}
        self.under: dict[Made, frozenset[Spot]] = {}
        self.places: dict[tuple[State, str], set[str]] = {}
        for spot in readings:
            self.places.setdefault((spot.state, spot.quantity), set()).add(spot.place)
        self.steps: list[Step] = []
        self.missing: dict[tuple[str, State, str], Missing] = {}

    def run(self) -> None:
        """Plan group by group; in a group that goes round in a circle, go on until nothing new comes of it.

        What takes a quantity of each place waits in its group until no place can come by one any more.
        """
        for group, circular in groups_in_order(self.worksheets):
            waiting = [sheet for sheet in group if any(take.each for take in sheet.takes)]
            others = [sheet for sheet in group if sheet not in waiting]
            new = True
            while new:
                new = sum(self.try_everywhere(sheet) for sheet in others) > 0
                new = (new or any(self.try_everywhere(sheet) for sheet in waiting)) and circular

    def try_everywhere(self, sheet: Worksheet) -> bool:
        """Plan a worksheet wherever one of its own inputs lies; return whether that gave anything new."""
        new = False
        for state in STATES:
            places = self.places_for(sheet, state)
            for place in sorted(places):
                new |= self.try_at(sheet, state, place, narrower=any(place in wider(other) for other in places))
        return new

    def places_for(self, sheet: Worksheet, state: State) -> set[str]:
        """Return the places at which an input of this worksheet lies in this state."""
        same = [take for take in sheet.takes if take.place == SAME]
        if not same:
            there = any(self.at_any_place(take, state) for take in sheet.takes)
            return {sheet.at} if there else set()
        wanted = [take for take in same if not take.optional] or same
        return {place for take in wanted for place in self.places.get((state, take.quantity), ())}

    def at_any_place(self, take: Take, state: State) -> bool:
        """Tell whether the quantity lies somewhere; of several places, at one of them."""
        places = self.places.get((state, take.quantity), ())
        return any(fnmatchcase(place, take.place) for place in places) if take.each else bool(places)

    def try_at(self, sheet: Worksheet, state: State, place: str, *, narrower: bool) -> bool:
        """Plan a worksheet at one place, or note what it lacks there; return whether that gave anything new."""
        given = [Made(Spot(state, place, quantity), sheet.name) for quantity in sheet.gives]
        open_ = [one for one in given if one not in self.without and one not in self.under]
        if not open_:
            return False
        own = frozenset(one.spot for one in given)
        inputs: list[Origin] = []
        lacking: list[str] = []
        found: list[str] = []
        under: set[Spot] = set()
        for take in sheet.takes:
            origin, lacks = self.find(take, state, place, own)
            if origin is None:
                lacking.extend(lacks)
                continue
            inputs.append(origin)
            for one in parts_of(origin):
                if isinstance(one, (Read, Made)):
                    found.append(take.quantity)
                    under |= self.lineage(one)
        if lacking:
            if not narrower:
                self.missing[sheet.name, state, place] = Missing(
                    worksheet=sheet.name,
                    state=state,
                    place=place,
                    quantities=tuple(dict.fromkeys(lacking)),
                    found=tuple(dict.fromkeys(found)),
                )
            return False
        if own & under:
            return False
        self.missing.pop((sheet.name, state, place), None)
        self.steps.append(Step(sheet, state, place, tuple(inputs), tuple(given)))
        for one in open_:
            self.under[one] = frozenset(under)
            at_spot = self.made.setdefault(one.spot, [])
            at_spot.append(one)
            at_spot.sort(key=self.preference)
            self.places.setdefault((state, one.spot.quantity), set()).add(place)
        return True

    def find(self, take: Take, state: State, place: str, own: frozenset[Spot]) -> tuple[Origin | None, tuple[str, ...]]:
        """Return where an input comes from, or None and what is lacking for it."""
        if take.each:
            return self.find_each(take, state, own)
        at = place if take.place == SAME else take.place
        origin, lacks = self.look(take.quantity, state, at, own)
        if origin is not None:
            return origin, ()
        if take.assume is not None:
            spot = Spot(state, at if take.place != SAME else WIDER_PLACES[0], take.quantity)
            return Assumed(spot, take.assume), ()
        if take.optional:
            return Default(take.default), ()
        return None, lacks

    def find_each(self, take: Take, state: State, own: frozenset[Spot]) -> tuple[Origin | None, tuple[str, ...]]:
        """Return a quantity of every place of a pattern together, or None and what is lacking.

        A place counts when anything at all was read there, so that what is lacking there is not left out in silence.
        """
        states = {spot.state for spot in self.readings} if take.quantity in self.carrying else {state}
        read = {spot.place for spot in self.readings if spot.state in states}
        made = {place for one in states for place in self.places.get((one, take.quantity), ())}
        places = sorted((one for one in read | made if fnmatchcase(one, take.place)), key=in_number_order)
        parts = [self.look(take.quantity, state, place, own, ()) for place in places]
        there = tuple(origin for origin, _ in parts if origin is not None)
        if there and (take.some or len(there) == len(parts)):
            return Several(there), ()
        if take.optional and not there:
            return Default(take.default), ()
        return None, next((lacks for origin, lacks in parts if origin is None), (take.quantity,))

    def look(
        self, quantity: str, state: State, place: str, own: frozenset[Spot], more: tuple[str, ...] | None = None
    ) -> tuple[Read | Made | None, tuple[str, ...]]:
        """Return a reading or result for a quantity by rules 1 and 2, or None and what is lacking.

        After the place itself come ``more`` places; the wider ones when left out.
        """
        lacks: tuple[str, ...] = (quantity,)
        states = (state, *(one for one in STATES if one != state and quantity in self.carrying))
        for one in states:
            for at in (place, *(wider(place) if more is None else more)):
                spot = Spot(one, at, quantity)
                first = self.made.get(spot, ())[:1]
                if first and self.is_chosen(first[0]) and spot not in own and not own & self.under[first[0]]:
                    return first[0], ()
                if spot not in own and spot in self.readings:
                    if not self.readings[spot]:
                        return Read(spot), ()
                    barometer, _ = self.look(BAROMETER, one, at, own)
                    if barometer is not None:
                        return Read(spot, barometer), ()
                    lacks = (BAROMETER,)
                for made in self.made.get(spot, ()):
                    if spot not in own and not own & self.under[made]:
                        return made, ()
        return None, lacks

    def preference(self, made: Made) -> tuple[bool, int]:
        """Return what puts the chosen method first, then the one registered first."""
        return not self.is_chosen(made), self.rank[made.worksheet]

    def is_chosen(self, made: Made) -> bool:
        """Tell whether somebody chose this method for this quantity."""
        return self.choice.get(made.spot.quantity) == made.worksheet

    def lineage(self, origin: Read | Made) -> frozenset[Spot]:
        """Return a number's spot and those of all under it."""
        if isinstance(origin, Made):
            return self.under[origin] | {origin.spot}
        return frozenset({origin.spot}) | (self.lineage(origin.barometer) if origin.barometer else frozenset())

    def chosen(self, only: frozenset[str] | None) -> tuple[tuple[Step, ...], tuple[Missing, ...]]:
        """Return the steps, and what is missing, that are wanted, in the order of dependence."""
        missing = sorted(self.missing.values(), key=lambda one: (one.state, self.rank[one.worksheet], one.place))
        if only is None:
            return tuple(self.steps), tuple(missing)
        wanted: list[Step] = []
        needed: set[tuple[str, State, str]] = set()
        for step in reversed(self.steps):
            if step.worksheet.name in only or (step.worksheet.name, step.state, step.place) in needed:
                wanted.append(step)
                for made in _made(step.inputs):
                    needed.add((made.worksheet, made.spot.state, made.spot.place))
        return tuple(reversed(wanted)), tuple(one for one in missing if one.worksheet in only)


@cache
def wider(place: str) -> tuple[str, ...]:
    """Return the places wider than a place, nearest first: round a cylinder of a row lies its bank.

    >>> wider("cylinder_R3"), wider("cylinder_3"), wider("engine")
    (('right_bank', 'engine', 'site'), ('engine', 'site'), ('site',))
    """
    if place in WIDER_PLACES:
        return WIDER_PLACES[WIDER_PLACES.index(place) + 1 :]
    row = OF_A_ROW.match(place)
    return (BANKS[row[1]], *WIDER_PLACES) if row else WIDER_PLACES


def parts_of(origin: Origin) -> tuple[Read | Made | Assumed | Default, ...]:
    """Return an input's numbers: itself, or those of each of its places."""
    return origin.parts if isinstance(origin, Several) else (origin,)


def in_number_order(place: str) -> tuple[str | int, ...]:
    """Return what puts ``cylinder_2`` before ``cylinder_10``."""
    return tuple(int(part) if part.isdigit() else part for part in re.split(r"([0-9]+)", place))


def _made(origins: Iterable[Origin]) -> list[Made]:
    """Return the results among origins, with those that serve as barometer."""
    found: list[Made] = []
    for one in (part for origin in origins for part in parts_of(origin)):
        if isinstance(one, Made):
            found.append(one)
        elif isinstance(one, Read) and isinstance(one.barometer, Made):
            found.append(one.barometer)
    return found
