"""Which cylinder each entry shows on a visit, bank by bank: by a hand thermometer, else by the usual pattern.

Ports that thermocouples of another alloy explain count with the temperature that is behind them, so that one fault is
not told twice. A setting of the entries that was seen not to be set (FT-08) makes another order likely from the start.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from asfound.cylinders.alloy_of_visit import behind
from asfound.cylinders.channel_order import BEFORE, Kind, OrderVerdict, judge_order, likely_strips
from asfound.cylinders.engine_numbering import rows
from asfound.cylinders.spread_of_case import Cylinder, SpreadOfVisit, ThisCase, judged
from asfound.quantities.case_numbers import number_at
from asfound.quantities.findings import Case
from asfound.quantities.words import State

SECOND = "cylinder_second_temperature"
STEADY = 8.0
"""Between two snapshots of a sound engine at like load, of each cylinder. Engineering judgement. [K]"""
BY_HAND = 15.0
"""Between the engine's own and a hand thermometer, the common offset aside. Engineering judgement. [K]"""
FEWEST = 4
"""Cylinders of a bank with both values before their order is judged."""
NOT_SET = "FT-08"
"""A setting that a part needs was seen not to be set."""
ENTRIES = "temperature_inputs"
BEFORE_NOT_SET: Mapping[Kind, float] = MappingProxyType(
    {"as_is": 0.20, "reversed": 0.70, "shifted": 0.05, "swapped": 0.05}
)
"""As ``BEFORE``, where the setting of the entries is not set. Engineering judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderOfBank:
    """What the entries of one bank show."""

    cylinders: tuple[Cylinder, ...]
    verdict: OrderVerdict
    beside: str
    """What the pattern was compared with."""

    @property
    def as_is(self) -> bool:
        """Whether each entry most probably shows its own cylinder."""
        return self.verdict.verdict == "as_is" or self.verdict.of_kind("as_is") >= 0.5

    @property
    def told(self) -> bool:
        """Whether another order can be named."""
        return not self.as_is and self.verdict.verdict != "cannot_be_told"


def orders(case: Case, spread: SpreadOfVisit) -> Iterator[OrderOfBank]:
    """Yield what the entries of each bank show that can be judged."""
    if spread is judged(case, spread.state):
        yield from _of_case(ThisCase(case), spread.state)
    else:
        yield from _orders(case, spread)


@lru_cache(maxsize=4)
def _of_case(this: ThisCase, state: State) -> tuple[OrderOfBank, ...]:
    spread = judged(this.case, state)
    return tuple(_orders(this.case, spread)) if spread is not None else ()


def _orders(case: Case, spread: SpreadOfVisit) -> Iterator[OrderOfBank]:
    """Yield the same, worked out."""
    state = spread.state
    by_place = {one.place: one for one in spread.cylinders}
    banks = rows(case.engine)
    explained = behind(case, spread)
    for places in banks.values():
        cylinders = tuple(by_place[place] for place in places if place in by_place)
        second = [number_at(case.worked, state, one.place, SECOND) for one in cylinders]
        by_hand = sum(one is not None for one in second) >= FEWEST
        if by_hand:
            usual = np.array([one.value if one else np.nan for one in second])
            doubt, beside = BY_HAND, "a hand thermometer at each port"
        else:
            usual = np.array([one.deviation - one.residual for one in cylinders])
            doubt, beside = STEADY, spread.compared
        shown = np.array([one.deviation + explained.get(one.place, 0.0) for one in cylinders])
        if np.isfinite(usual - shown).sum() < FEWEST:
            continue
        names = [one.name for one in cylinders]
        verdict = judge_order(
            shown, usual, doubt, called=names.__getitem__, strips=likely_strips(len(names), len(banks)),
            before=BEFORE_NOT_SET if by_hand and _not_set(case, state) else BEFORE,
        )  # fmt: skip
        yield OrderOfBank(cylinders=cylinders, verdict=verdict, beside=beside)


def shows(case: Case, state: State) -> dict[str, str]:
    """Return by cylinder the one that its entry shows, both by name, where another order is told and they differ."""
    found: dict[str, str] = {}
    for one in _of_case(ThisCase(case), state):
        if one.told:
            names = [cylinder.name for cylinder in one.cylinders]
            pairs = zip(names, one.verdict.best.cylinder_of, strict=True)
            found |= {name: names[other] for name, other in pairs if names[other] != name}
    return found


def in_truth(found: Mapping[str, str], name: str) -> str:
    """Return the words behind a cylinder's name where its entry shows another one; empty where it shows its own."""
    return f" (its entry shows cylinder {found[name]})" if name in found else ""


def _not_set(case: Case, state: State) -> bool:
    """Tell whether the setting of the entries was seen not to be set; what was set since counts as left."""
    contradictions = getattr(case.identification, "contradictions", ())
    return state == "as_found" and any(
        one.code == NOT_SET and ENTRIES in one.places and one.severity == "visit" for one in contradictions
    )
