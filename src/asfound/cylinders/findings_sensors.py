"""Findings of sensors: thermocouples of another alloy, entries that show another cylinder."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from asfound.cylinders.alloy_of_visit import Fit, fits_of, hot_ports
from asfound.cylinders.engine_numbering import both_numbers, rows
from asfound.cylinders.findings_numbering import STEP, with_site_number
from asfound.cylinders.order_of_visit import OrderOfBank, orders
from asfound.cylinders.shown import difference, in_units
from asfound.cylinders.spread_of_case import TEMPERATURE, Cylinder, SpreadOfVisit, judged
from asfound.quantities.case_numbers import number_at
from asfound.quantities.findings import Case
from asfound.quantities.words import STATES, Finding, State

ALIKE = 20.0
"""Cold cylinders must be as alike as this before another alloy is thought of. Engineering judgement. [K]"""
NOT_MOVED = 15.0
"""A reading that moved less between the states did not answer to the work. Engineering judgement. [K]"""
HOT = ("hot",)


def find(case: Case) -> Iterator[Finding]:
    """Yield what the readings tell of their sensors."""
    for state in STATES:
        spread = judged(case, state)
        if spread is not None:
            yield from _alloy(case, spread, state)
            yield from _channels(case, spread)
    yield from _not_moved(case)


def _alloy(case: Case, spread: SpreadOfVisit, state: State) -> Iterator[Finding]:
    """Compare each odd cylinder with what the others would read through wire or input of another type."""
    hot = hot_ports(spread)
    cold = [one for one in spread.cylinders if one.beyond_limit and one.deviation < 0]
    if hot and (fits := fits_of(case, hot, state)):
        listed = "; ".join(_said(case, one, fits[0][1][i]) for i, one in enumerate(hot))
        several = len(hot) > 1
        yield Finding(
            code="CY-02",
            subject=STEP,
            says=(
                f"{_named(case, hot)} read{'' if several else 's'} as much too high as {_types(fits)} would: {listed}; "
                "the rest of the bank is there"
            ),
            severity="clash" if several else "soon",
            next_step=(
                "Compare the colours of their leads and the type letter at the terminals with the others, and the "
                "ports by a hand thermometer, before fuel or timing is touched."
                + ("" if several else " One cylinder alone may as well be hot.")
            ),
            compared_with="reference functions of IEC 60584-1 (ITS-90), terminals as warm as said or assumed",
            because=tuple(one.key for one in hot),
            cautions=HOT,
            state=state,
        )
    together = len(cold) > 1 and max(one.deviation for one in cold) - min(one.deviation for one in cold) < ALIKE
    if together and (fits := fits_of(case, cold, state)):
        yield Finding(
            code="CY-09",
            subject=STEP,
            says=f"{_named(case, cold)} read equally low; {_types(fits)} would read so on sound cylinders",
            severity="note",
            next_step="Look at the colours of their leads when the cylinders themselves have been looked at: cold "
            "cylinders are more often cold than wrongly wired.",
            compared_with="reference functions of IEC 60584-1 (ITS-90)",
            because=tuple(one.key for one in cold),
            cautions=HOT,
            state=state,
        )


def _channels(case: Case, spread: SpreadOfVisit) -> Iterator[Finding]:
    """Compare the pattern shown with that of a hand thermometer, else with the usual one, bank by bank."""
    for one in orders(case, spread):
        if not one.as_is:
            yield _order_finding(one, spread.state)


def _order_finding(bank: OrderOfBank, state: State) -> Finding:
    verdict, beside, told = bank.verdict, bank.beside, bank.told
    return Finding(
        code="CY-03" if told else "CY-04",
        subject=STEP,
        says=f"The pattern fits {beside} only when entries are put in another order: {verdict.says}"
        if told
        else f"The pattern does not fit {beside} as the entries stand, and in which order they are {verdict.says}",
        severity="clash" if told else "soon",
        next_step=(
            "Prove which entry is which before a sensor or a coil is changed: warm one probe, or cut one cylinder out "
            "by the documented method, and see which entry answers."
        ),
        compared_with=beside,
        probability=verdict.probability if told else 1 - verdict.of_kind("as_is"),
        because=tuple(one.key for one in bank.cylinders),
        cautions=("hot", "hv", "unburnt"),
        state=state,
    )


def _not_moved(case: Case) -> Iterator[Finding]:
    """Yield a cylinder that was odd as found, was read again as left, and has not moved."""
    found = judged(case, "as_found")
    for one in found.cylinders if found else ():
        again = number_at(case.worked, "as_left", one.place, TEMPERATURE)
        if not one.beyond_limit or again is None or abs(again.value - one.value) > NOT_MOVED:
            continue
        other = _counted_backwards(case, one.place)
        where = f" On a strip that counts backwards it would show {other}." if other else ""
        yield Finding(
            code="CY-05",
            subject=STEP,
            says=(
                f"Cylinder {one.name} still reads {'hot' if one.deviation > 0 else 'cold'} after the work: "
                f"{difference(case, one.deviation, signed=True)} as found, "
                f"{difference(case, again.value - one.value, signed=True)} since"
            ),
            severity="soon",
            next_step=(
                "If its thermocouple was changed, neither the old nor the new one is the fault: the cylinder is so, or "
                f"this entry shows another cylinder.{where} Prove which entry is which before anything else is changed."
            ),
            because=(one.key, again.key),
            cautions=HOT,
            state="as_left",
        )


def _counted_backwards(case: Case, place: str) -> str:
    """Return the name that the entry of a cylinder shows when its bank counts backwards; empty for the middle one."""
    for places in rows(case.engine).values():
        if place in places:
            other = places[len(places) - 1 - places.index(place)]
            return "" if other == place else other.removeprefix("cylinder_")
    return ""


def _types(fits: Sequence[Fit]) -> str:
    return " or ".join(f"a type {wire} thermocouple on a type {at_input} input" for (wire, at_input), _ in fits[:3])


def _named(case: Case, odd: Sequence[Cylinder]) -> str:
    both = {one.place: with_site_number(one) for one in both_numbers(case.engine)}
    names = [both.get(one.place, one.name) for one in odd]
    listed = f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]
    return f"Cylinders {listed}" if len(names) > 1 else f"Cylinder {listed}"


def _said(case: Case, one: Cylinder, true: float) -> str:
    return f"{in_units(case, one.value, TEMPERATURE)} would be {in_units(case, true, TEMPERATURE)}"
