"""Findings of the mixture: whether the witnesses of lambda agree, which one stands apart, and where to look.

A leak in the sample line moves dry oxygen and carbon dioxide together, along the line that a lean mixture runs too. So
the two cannot show it: a probe in the hot exhaust can. What the two do show is a gas other than the one analysed, or an
analyser that is off.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Literal

from asfound.quantities.display import show
from asfound.quantities.draw_answers import Difference
from asfound.quantities.findings import Case
from asfound.quantities.words import STATES, Finding, Reading, Result, State

PLACES = ("stack", "before_catalyst", "after_catalyst", "left_bank", "right_bank", "engine")
AT_THE_ANALYSER = ("co", "hot", "calgas", "local")
FORMS_DIFFER = 0.005
"""Of lambda: the published forms differ by as much among themselves (air, carbon dioxide of the air, rounding)."""
ANALYSER_STEPS = 0.001
"""Oxygen or carbon dioxide, mol/mol: less than this is no disagreement. Engineering judgement."""
WITNESSES = {
    "dry oxygen": ("exhaust_oxygen_dry", ("mixture_from_oxygen_and_co", "mixture_from_oxygen")),
    "carbon dioxide": ("exhaust_co2_dry", ("mixture_from_co2",)),
    "wet oxygen": ("exhaust_oxygen_wet", ("mixture_from_wet_oxygen",)),
}
"""Each reading that can tell lambda by itself: its quantity, and the worksheets that rest on it, the best first."""
LOOK_AT = {
    "dry oxygen": "Give span gas at the tip of the probe, through all the line: it must read as at the analyser. Close "
    "the tip: the flow must stop. Then span the oxygen cell; an old one reads low.",
    "carbon dioxide": "Is carbon dioxide measured, or computed by the analyser from oxygen for a set fuel? Then zero "
    "and span it, and ask how old the gas analysis is.",
    "wet oxygen": "Let the probe see air at standstill: it must read the oxygen of humid air. Look for air drawn in at "
    "its flange, and for its age.",
}

UNBURNED_UNREAD = (
    "Nothing to do. Hydrocarbons were not read: each per cent of the fuel that leaves unburned makes all of these "
    "about 1 % too lean."
)


def find(case: Case) -> Iterator[Finding]:
    """Yield what the witnesses of lambda say together."""
    for state in STATES:
        for place in PLACES:
            yield from _witnesses(case, state, place)


def _witnesses(case: Case, state: State, place: str) -> Iterator[Finding]:
    """Compare the witnesses of one place."""
    there = {name: result for name in WITNESSES if (result := _lambda_by(case, state, place, name)) is not None}
    if len(there) < 2:
        return
    apart = {
        frozenset(pair): away
        for pair in combinations(there, 2)
        if (away := stands_apart(case, there[pair[0]], there[pair[1]], FORMS_DIFFER * there[pair[0]].value)) is not None
    }
    if not apart:
        yield _agree(case, state, there)
    elif len(there) == 2:
        yield _two_apart(case, state, place, there, next(iter(apart.values())))
    else:
        yield _odd_one(case, state, there, apart)


def _lambda_by(case: Case, state: State, place: str, witness: str) -> Result | None:
    """Return lambda by a witness that was really read at this place, not worked out from another one."""
    quantity, sheets = WITNESSES[witness]
    if reading_at(case, state, place, quantity) is None:
        return None
    for sheet in sheets:
        found = case.worked.result(f"{state}/{place}/excess_air_ratio", sheet)
        if found is not None:
            return found
    return None


def _agree(case: Case, state: State, there: dict[str, Result]) -> Finding:
    said = " and ".join(f"{told(case, one)} by {name}" for name, one in there.items())
    return Finding(
        code="EX-10",
        subject="exhaust",
        says=f"Lambda {said}: they agree",
        severity="note",
        next_step="Nothing to do." if _unburned_read(there) else UNBURNED_UNREAD,
        compared_with="each other, by the balance of the elements for this gas",
        because=tuple(one.key for one in there.values()),
        state=state,
    )


def _unburned_read(there: dict[str, Result]) -> bool:
    """Return whether any witness rests on hydrocarbons that were read."""
    return any("hydrocarbons" in one.quantity for result in there.values() for one in result.readings())


def _two_apart(case: Case, state: State, place: str, there: dict[str, Result], away: Difference) -> Finding:
    """Return the finding of two witnesses that do not fit; which of them is wrong two cannot tell."""
    first, second = there
    if "carbon dioxide" not in there:
        return _wet_and_dry(case, state, there)
    oxygen = first if first != "carbon dioxide" else second
    read = reading_at(case, state, place, "exhaust_co2_dry")
    belongs = case.worked.result(f"{state}/{place}/co2_beside_oxygen")
    told_here = (
        f"lambda {told(case, there[oxygen])} by {oxygen}, {told(case, there['carbon dioxide'])} by carbon dioxide"
    )
    if read is not None and belongs is not None and oxygen == "dry oxygen":
        told_here = f"{told(case, read)} carbon dioxide read, {told(case, belongs)} belongs to the oxygen; {told_here}"
    return Finding(
        code="EX-13",
        subject="exhaust",
        says=f"Oxygen and carbon dioxide do not fit {_the_gas(there[oxygen])}: {told_here}, {doubts(away)}",
        severity="clash",
        next_step=_too_little_or_too_much(there, oxygen)
        + LOOK_AT["carbon dioxide"]
        + " A leak in the sample line does "
        "not make this.",
        compared_with="the balance of the elements for this gas",
        because=tuple(one.key for one in there.values()),
        cautions=AT_THE_ANALYSER,
        state=state,
    )


def _too_little_or_too_much(there: dict[str, Result], oxygen: str) -> str:
    """Say what makes carbon dioxide too low or too high for the oxygen; too low reads as too lean a mixture."""
    if there["carbon dioxide"].value > there[oxygen].value:
        return "Carbon dioxide is low for this oxygen: fuel unburned, or its cell reads low. "
    return "Carbon dioxide is high for this oxygen: the gas holds more of it than analysed, or an old cell reads low. "


def _the_gas(result: Result) -> str:
    """Say whether the gas was analysed or taken for granted."""
    assumed = any(one.quantity == "fuel_carbon_atoms" for one in result.assumed)
    return "pipeline gas, which was assumed for want of an analysis" if assumed else "this gas"


def _wet_and_dry(case: Case, state: State, there: dict[str, Result]) -> Finding:
    dry, wet = there["dry oxygen"], there["wet oxygen"]
    leaner = "leaner" if dry.value > wet.value else "richer"
    look = (
        "The sample line draws air, or the probe in the exhaust has aged: give span gas at the tip of the line."
        if dry.value > wet.value
        else "The probe draws air at its flange or reads high, or the oxygen cell of the analyser is old: span both."
    )
    return Finding(
        code="EX-14",
        subject="exhaust",
        says=f"Dry oxygen says {leaner} than the probe in the hot exhaust: lambda {told(case, dry)} against "
        f"{told(case, wet)}, {doubts(case.worked.difference(dry, wet))}",
        severity="clash",
        next_step=look,
        compared_with="wet oxygen, brought to dry with this gas and this air",
        because=(dry.key, wet.key),
        cautions=AT_THE_ANALYSER,
        state=state,
    )


def _odd_one(case: Case, state: State, there: dict[str, Result], apart: dict[frozenset[str], Difference]) -> Finding:
    """Name the one that the other two are against; else say that no two agree for sure."""
    said = ", ".join(f"{told(case, one)} by {name}" for name, one in there.items())
    odd = [name for name in there if all(name in pair for pair in apart) and len(apart) == 2]
    if odd:
        (name,) = odd
        says = f"Lambda by {name} stands apart, {doubts(max(apart.values(), key=in_doubts))}: {said}"
        look = LOOK_AT[name]
    else:
        says = f"The ways to lambda do not fit each other: {said}"
        look = "Zero and span the analyser, then look whether the gas is still that of the analysis."
    return Finding(
        code="EX-11",
        subject="exhaust",
        says=says,
        severity="clash",
        next_step=look,
        compared_with="each other, by the balance of the elements for this gas",
        because=tuple(one.key for one in there.values()),
        cautions=AT_THE_ANALYSER,
        state=state,
    )


def reading_at(case: Case, state: State, place: str, quantity: str) -> Reading | None:
    """Return the reading that lies there, or None."""
    return case.worked.reading(f"{state}/{place}/{quantity}")


def stands_apart(case: Case, one: Result | Reading, other: Result | Reading, floor: float) -> Difference | None:
    """Return one less the other where that is more than doubt and more than forms differ by; else None."""
    away = case.worked.difference(one, other)
    low, high = away.interval
    inside = low <= 0.0 <= high if low == low else False
    return None if inside or abs(away.value) <= floor else away


def in_doubts(away: Difference) -> float:
    """Return the size of a difference in its standard uncertainties."""
    return abs(away.value) / away.standard_uncertainty if away.standard_uncertainty > 0 else float("inf")


def doubts(away: Difference) -> str:
    """Say how far apart: ``3.2 standard uncertainties apart``."""
    size = in_doubts(away)
    return f"{size:.1f} standard uncertainties apart" if size < 1e3 else "both taken as exact"


def told(case: Case, number: Result | Reading) -> str:
    """Say a number in the units of the visit."""
    system: Literal["si", "us"] = "us" if case.visit.get("system") == "us" else "si"
    shown = show(number.value, number.quantity, system=system, interval=case.worked.interval(number))
    return f"{shown.value} {shown.unit}".strip()
