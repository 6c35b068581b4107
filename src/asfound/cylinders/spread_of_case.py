"""Spread of a visit: the ports as read, with what their instruments' uncertainty makes of each deviation.

Findings, pages and the judgement of sensor or cylinder all start here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from asfound.cylinders import own_pattern
from asfound.cylinders.engine_numbering import rows
from asfound.cylinders.mask import Mark, Marks, mask, valid
from asfound.cylinders.robust import rarity
from asfound.cylinders.spread import LIMIT, Basis, Spread, deviation, judge, spread
from asfound.quantities.case_numbers import Number, number_at
from asfound.quantities.findings import Case
from asfound.quantities.plan import in_number_order
from asfound.quantities.typing import Array
from asfound.quantities.words import STATES, State
from asfound.quantities.worked import Worked

TEMPERATURE = "cylinder_exhaust_temperature"
CHANGE_LIMIT = 20.0
"""Change against this engine's own pattern that is looked into; common practice, no source. [K]"""
DRAWS = 2000
"""Enough for the percent of a probability; a median over ports costs a sort a draw."""
BANKS = {"L": "left_bank", "R": "right_bank"}
USUAL = "usual_exhaust_pattern"
"""Key of `Case.visit` with this engine's pattern from its log (`pattern_as_data`)."""
BY_NOTHING, BY_LOG, BY_VISIT = (
    "nothing: no history of this engine at hand",
    "this engine's usual pattern from its log, at this load",
    "the last visit",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinder:
    """One port of a visit. Temperatures and differences in K; nan where it cannot be had."""

    place: str
    key: str
    value: float
    mark: Mark
    bank: str
    deviation: float
    """From the median of its bank's valid ports."""
    interval: tuple[float, float]
    """95 %, of the deviation: all the bank's instruments are in it."""
    standard_uncertainty: float
    probability_off: float
    """That it is truly off by more than the limit, this way."""
    z: float
    odd: int
    """1 hot, -1 cold: beyond the limit and, where it can be judged, beyond what sound engines scatter."""
    as_rare: float
    """Share of sound engines' snapshots with as odd a port, by its z: 0.2 for a fifth or more; nan where unknown."""
    beyond_limit: bool
    residual: float
    """Deviation now less the usual one; nan without history."""
    changed: int
    """1 hotter, -1 colder than usual: as ``odd``, for the residual."""

    @property
    def name(self) -> str:
        """``L4``."""
        return self.place.removeprefix("cylinder_")


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadOfVisit:
    """All ports of one state of a visit."""

    state: State
    cylinders: tuple[Cylinder, ...]
    """By bank and along it from the driving end where the layout is known, else by number."""
    banks: tuple[str, ...]
    spread: Spread
    basis: Basis
    limit: float
    compared: str
    """What the residuals were compared with, in words."""
    load: float
    """Share of rated; nan where unknown."""
    load_then: float
    """Of the last visit, where that is the comparison."""
    bank_difference_interval: tuple[float, float]
    draws: Array
    """Draws of the deviations, shape (draws, cylinders)."""

    def at(self, place: str) -> Cylinder | None:
        """Return one cylinder."""
        return next((one for one in self.cylinders if one.place == place), None)

    @property
    def basis_words(self) -> str:
        """What an odd cylinder was judged by, in words."""
        if self.basis == Basis.BOTH:
            return (
                f"modified z beyond {float(self.spread.cutoff):.1f} (what sound engines exceed in 1 of 100 snapshots "
                f"with so few ports) and more than {self.limit:.0f} K"
            )
        if self.basis == Basis.LIMIT:
            return f"more than {self.limit:.0f} K alone: too few ports, or readings too coarse, for a scatter"
        return "nothing: fewer than three ports count in a bank"


def bank_of(place: str) -> str:
    """Return the bank of a cylinder by its letter; an engine in line is one bank."""
    return BANKS.get(place.removeprefix("cylinder_")[:1], "engine")


def pattern_as_data(pattern: own_pattern.Pattern, places: Sequence[str]) -> dict[str, Any]:
    """Return a pattern as plain data by place, to be kept or handed on."""
    return {
        "load": pattern.load,
        "loads": list(pattern.loads),
        "places": {
            place: [float(one[at]) for one in (pattern.middle, pattern.slope, pattern.scatter, pattern.error)]
            + [int(pattern.count[at])]
            for at, place in enumerate(places)
        },
    }


def pattern_of_data(data: Mapping[str, Any], places: Sequence[str]) -> own_pattern.Pattern:
    """Return a pattern from plain data, in the order of these places; nan for a place it does not know."""
    nothing = [np.nan] * 4 + [0]
    columns = np.array([data["places"].get(place, nothing) for place in places], dtype=float).T
    middle, slope, scatter, error, count = columns
    low, high = data["loads"]
    return own_pattern.Pattern(middle, slope, scatter, error, count, float(data["load"]), (low, high))


def judged(
    case: Case, state: State, *, limit: float = LIMIT, pattern: own_pattern.Pattern | None = None
) -> SpreadOfVisit | None:
    """Return the spread of a state of a visit; None where no port was read or the engine is not at load.

    Parameters
    ----------
    case : Case
        Its ``previous`` visit serves as the usual pattern where no log does.
    state : State
    limit : float
        Deviation looked into. Default 30 K: common practice, no source. [K]
    pattern : Pattern, optional
        Usual pattern in the order of the cylinders; from ``case.visit["usual_exhaust_pattern"]`` when left out.
    """
    return _judged(ThisCase(case), state, limit) if pattern is None else _worked_out(case, state, limit, pattern)


class ThisCase:
    """One case, known again as the very same: several findings ask for its spread, its order, its witnesses.

    What other rooms found in it makes it no other case.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        self.parts = (
            case.worked, case.readings, case.limits, case.identification, case.engine, case.visit, case.previous,
        )  # fmt: skip

    def __hash__(self) -> int:
        return hash((id(self.case.worked), id(self.case.visit)))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, ThisCase) and all(one is two for one, two in zip(self.parts, other.parts, strict=True))


@lru_cache(maxsize=4)
def _judged(this: ThisCase, state: State, limit: float) -> SpreadOfVisit | None:
    return _worked_out(this.case, state, limit, None)


def _worked_out(case: Case, state: State, limit: float, pattern: own_pattern.Pattern | None) -> SpreadOfVisit | None:
    """Return the spread as `judged` says it."""
    numbers = _numbers(case, state)
    if not numbers:
        return None
    places = list(numbers)
    values = np.array([one.value if one else np.nan for one in numbers.values()])
    marks = mask(values)
    if (marks == Mark.STOPPED).all():
        return None
    named = [bank_of(place) for place in places]
    banks = tuple(dict.fromkeys(named))
    index = [banks.index(one) for one in named] if len(banks) == 2 else None
    counted = valid(values, marks)
    now = spread(counted, index, limit=limit)
    away, middles = deviation(_drawn(case.worked, list(numbers.values()), marks), index)
    load = _load(case.worked, state)
    rest, compared, load_then = _residual(case, places, counted, load, index, pattern)
    rest = np.where([place in _renewed(case, state) for place in places], np.nan, rest)
    if compared == BY_VISIT:
        rest = np.where(_came_back(now.deviation, rest, limit), np.nan, rest)
    changed = judge(rest, index, limit=CHANGE_LIMIT)
    as_rare = _as_rare(now, named)
    cylinders = []
    for at, place in enumerate(places):
        own = away[:, at]
        known = np.isfinite(now.deviation[at])
        sign = np.sign(now.deviation[at])
        cylinders.append(
            Cylinder(
                place=place,
                key=f"{state}/{place}/{TEMPERATURE}",
                value=float(values[at]),
                mark=Mark(int(marks[at])),
                bank=named[at],
                deviation=float(now.deviation[at]),
                interval=_interval(own) if known else (np.nan, np.nan),
                standard_uncertainty=float(own.std()) if known else np.nan,
                probability_off=float((sign * own > limit).mean()) if known else np.nan,
                z=float(now.z[at]),
                odd=int(now.odd[at]),
                as_rare=float(as_rare[at]),
                beyond_limit=bool(now.beyond_limit[at]),
                residual=float(rest[at]),
                changed=int(changed.odd[at]),
            )
        )
    return SpreadOfVisit(
        state=state,
        cylinders=tuple(cylinders),
        banks=banks,
        spread=now,
        basis=Basis(int(now.basis)),
        limit=limit,
        compared=compared,
        load=load,
        load_then=load_then,
        bank_difference_interval=_interval(middles[:, 0] - middles[:, -1]) if index else (np.nan, np.nan),
        draws=away,
    )


def _numbers(case: Case, state: State) -> dict[str, Number | None]:
    """Return the ports read in a state, with those of the layout that nobody read; empty where none was read."""
    all_: tuple[Number, ...] = (*case.worked.readings, *case.worked.results)
    read = {
        one.place
        for one in all_
        if one.state == state and one.quantity == TEMPERATURE and one.place.startswith("cylinder_")
    }
    if not read:
        return {}
    along = [place for bank in rows(case.engine).values() for place in bank]
    places = along + sorted(read - set(along), key=in_number_order)
    if not along:
        places.sort(key=lambda one: (bank_of(one), in_number_order(one)))
    return {place: number_at(case.worked, state, place, TEMPERATURE) for place in places}


def _drawn(worked: Worked, numbers: Sequence[Number | None], marks: Marks) -> Array:
    """Return draws of the ports that count, nan for the others. Shape (draws, cylinders)."""
    found = np.full((min(DRAWS, worked.number), len(numbers)), np.nan)
    for at, number in enumerate(numbers):
        if number is not None and marks[at] == Mark.VALID:
            own = worked.draws(number)  # a result of a heavy worksheet has fewer draws than the visit
            found[:, at] = own[: len(found)] if own.size >= len(found) else np.resize(own, len(found))
    return found


def _load(worked: Worked, state: State) -> float:
    number = number_at(worked, state, "engine", "engine_load")
    return number.value if number else np.nan


def _residual(
    case: Case,
    places: list[str],
    counted: Array,
    load: float,
    index: Sequence[int] | None,
    pattern: own_pattern.Pattern | None,
) -> tuple[Array, str, float]:
    """Return deviation now less the usual one, what was compared with, and the load of the last visit."""
    if pattern is None and case.visit.get(USUAL):
        pattern = pattern_of_data(case.visit[USUAL], places)
    if pattern is not None:
        found = own_pattern.residual(counted, pattern, None if np.isnan(load) else load, index)
        if np.isfinite(found).any():
            return found, BY_LOG, np.nan
    then = _last_visit(case, places)
    if then is not None:
        found, _ = deviation(counted - then[0], index)
        if np.isfinite(found).any():
            return found, BY_VISIT, then[1]
    return np.full(len(places), np.nan), BY_NOTHING, np.nan


def _came_back(deviation_now: Array, rest: Array, limit: float) -> NDArray[np.bool_]:
    """Tell which ports stood apart at the last visit and stand with the others now: one snapshot is no habit."""
    gone: NDArray[np.bool_] = (np.abs(deviation_now - rest) > limit) & (np.abs(deviation_now) <= limit)
    return gone


def _renewed(case: Case, state: State) -> set[str]:
    """Return the places whose reading changed with its sensor: what was usual there was the old sensor's habit."""
    looks = case.visit.get("cylinder_looks") or ()
    names = {
        str(one["cylinder"])
        for one in looks
        if one.get("witness") == "sensor_renewed"
        and one.get("state_of_visit", "as_found") == state
        and "followed" in (one.get("state"), *one.get("states", ()))
    }
    return {name if name.startswith("cylinder_") else f"cylinder_{name}" for name in names}


def _as_rare(now: Spread, named: Sequence[str]) -> Array:
    """Return how rare each port's z is among sound engines with so many ports."""
    there = np.isfinite(now.deviation)
    counts = [sum(ok for ok, one in zip(there, named, strict=True) if one == bank) for bank in dict.fromkeys(named)]
    judged_banks = [one for one in counts if one]
    if not judged_banks or len(judged_banks) > 2:
        return np.full(len(named), np.nan)
    return np.asarray(rarity(now.z, min(judged_banks), banks=len(judged_banks)))


def _last_visit(case: Case, places: Sequence[str]) -> tuple[Array, float] | None:
    """Return the ports as the last visit left them, else as it found them, and the load then.

    Where fewer ports were read as left, only those that were worked at, the set as found is the one that compares.
    """
    if case.previous is None:
        return None
    best: tuple[Array, float] | None = None
    most = 0
    for state in reversed(STATES):
        numbers = [number_at(case.previous, state, place, TEMPERATURE) for place in places]
        values = np.array([one.value if one else np.nan for one in numbers])
        marks = mask(values)
        count = int((marks == Mark.VALID).sum())
        if count > most:
            best, most = (valid(values, marks), _load(case.previous, state)), count
    return best


def _interval(draws: Array) -> tuple[float, float]:
    low, high = np.quantile(draws, [0.025, 0.975])
    return float(low), float(high)
