"""Findings of the load carried: whether the roads to it agree, and which one a permit can lean on."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from asfound.quantities.agreement import Agreement, Beside, agreement_of
from asfound.quantities.case_numbers import Number, number_at, said
from asfound.quantities.findings import Case
from asfound.quantities.register import quantity
from asfound.quantities.shares import REST
from asfound.quantities.words import STATES, Finding, Reading, Result, Severity, State
from asfound.quantities.worked import Worked

BY_FUEL = "engine_power_from_fuel"
PER_ENERGY = "_mass_per_energy"
"""Quantities of a permit that count by the work at the shaft end so."""
MOSTLY = 0.5
"""Share of a variance from which on it is said to lie mostly there (engineering judgement)."""
UNEXPLAINED = 4.0
"""Times its doubt: a difference beyond this is no matter of instruments (engineering judgement)."""
SURER = 0.8
"""A road is called surer when its doubt is below this of the other's (engineering judgement)."""


def find(case: Case) -> Iterator[Finding]:
    """Yield what the numbers of the load mean together."""
    for state in STATES:
        roads = agreement_of(case.worked, f"{state}/engine/engine_power")
        if roads is not None:
            yield from _roads(case, roads, state)
        yield from _for_the_permit(case, roads, state)


def road(number: Number) -> str:
    """Return by which road a power was come by: ``from the generator``."""
    if isinstance(number, Reading):
        return "as entered"
    title = _titles().get(number.worksheet, number.worksheet)
    return title.removeprefix("Engine power, ")


def _titles() -> dict[str, str]:
    from asfound.quantities.worksheets import load

    return {name: sheet.title for name, sheet in load().items()}


def _roads(case: Case, roads: Agreement, state: State) -> Iterator[Finding]:
    apart = [one for one in roads.others if one.verdict == "apart"]
    for one in apart:
        yield _apart(case, roads.taken, one, state)
    if not apart:
        names = ", ".join(road(one) for one in roads.numbers)
        yield Finding(
            code="PW-21",
            subject="load",
            says=f"{len(roads.numbers)} roads to the engine's power agree within their doubt: {names}",
            severity="note",
            next_step=(
                "Nothing to do. That the road by the fuel fits says that the engine is about as good as its data sheet."
                if all(_by_fuel(one.number) for one in roads.others)
                else "Nothing to do. What the roads have in common, such as one gas or one speed, it does not prove."
            ),
            because=tuple(one.key for one in roads.numbers[:1]),
            state=state,
        )


def _apart(case: Case, taken: Number, other: Beside, state: State) -> Finding:
    away = other.difference.value
    share = f"{100 * abs(away) / abs(taken.value):.1f} % " if taken.value else ""
    behind = most_of_the_doubt(case.worked, taken, other)
    doubts = (
        f"{other.in_doubts:.1f} times the doubt of their difference"
        if np.isfinite(other.in_doubts)
        else "no doubt was stated for either"
    )
    where = f" Most of the doubt between them is in {behind[0]} ({behind[1]})." if behind else ""
    by_fuel = isinstance(other.number, Result) and other.number.worksheet == BY_FUEL
    assumed = behind is not None and any(
        one.key == behind[2] for number in (taken, other.number) if isinstance(number, Result) for one in number.assumed
    )
    advice = (
        "The road by the fuel takes the data sheet's efficiency for granted: the engine may be worse than its sheet, "
        "or the fuel meter wrong. Do not correct the others by it."
        if by_fuel
        else ("Enter that number from its sheet or plate" if assumed else "Take that reading again")
        + "; until then give both."
    )
    if not by_fuel and other.in_doubts > UNEXPLAINED:
        advice = (
            "No doubt that was stated explains it: look for a pressure that is gauge and not absolute, a transformer "
            "ratio, a flow at other conditions, a valve that leaks. Until then give both."
        )
    return Finding(
        code="PW-20",
        subject="load",
        says=(
            f"The engine's power {road(other.number)}, {said(case, other.number)}, stands {share}"
            f"{'over' if away > 0 else 'under'} that {road(taken)}, {said(case, taken)}: "
            f"{doubts}.{where}"
        ),
        severity="note" if by_fuel else "clash",
        next_step=advice,
        compared_with=f"{road(taken)}, {said(case, taken)}",
        because=tuple(dict.fromkeys((taken.key, *([behind[2]] if behind else [])))),
        cautions=("local",),
        state=state,
    )


def most_of_the_doubt(worked: Worked, taken: Number, other: Beside) -> tuple[str, str, str] | None:
    """Return the reading that weighs most in the difference of two roads: title, where and how much, key.

    Of all readings that only one of the roads rests on, it is the one that needs the fewest of its own standard
    uncertainties to be the cause. None where nothing has any doubt.
    """
    parts: dict[str, float] = {}
    for number, alone in ((taken, other.only_taken), (other.number, other.only_here)):
        shares = worked.shares(number) if isinstance(number, Result) else ((number.key, 1.0),)
        for key, share in shares:
            if key != REST and any(one in alone for one in key.split(" + ")):
                parts[key] = parts.get(key, 0.0) + share * number.standard_uncertainty**2
    total = sum(parts.values())
    if not total > 0.0:
        return None
    key = max(parts, key=lambda one: parts[one])
    first = key.split(" + ")[0]
    _, place, name = first.split("/", 2)
    return f"'{quantity(name).title}'", f"{place}, {100 * parts[key] / total:.0f} %", first


def _for_the_permit(case: Case, roads: Agreement | None, state: State) -> Iterator[Finding]:
    """Yield which power a permit by work at the shaft should rest on, and what would make it surer."""
    if not any(limit.quantity.endswith(PER_ENERGY) for limit in case.limits):
        return
    taken = roads.taken if roads else number_at(case.worked, state, "engine", "engine_power")
    if taken is None or not taken.value > 0:
        return
    if not taken.standard_uncertainty > 0:
        yield _without_doubt(case, taken, state)
        return
    ways = roads.numbers if roads else (taken,)
    all_ = [one for one in ways if not _by_fuel(one) and one.standard_uncertainty > 0]
    best = min(all_, key=_doubt, default=taken)
    other = _doubt(best) < SURER * _doubt(taken) or _by_fuel(taken)
    best = best if other else taken
    weight = _heaviest(case.worked, best)
    assumed = weight is not None and weight[1] >= MOSTLY and weight[2]
    apart = roads is not None and any(one.verdict == "apart" and not _by_fuel(one.number) for one in roads.others)
    severity: Severity = "soon" if other or assumed or apart else "note"
    where = f" {100 * weight[1]:.0f} % of it is in {weight[0]}{', assumed' if weight[2] else ''}." if weight else ""
    choose = f"Choose the road {road(best)} for the permit's figures. " if other and best is not taken else ""
    if apart:
        choose = "The roads stand apart: settle that before a figure for the permit is given. "
    what = "Enter that number from its test sheet or plate." if assumed else "Improve that reading first."
    yield Finding(
        code="PW-22",
        subject="load",
        says=(
            f"For figures by work at the shaft the surest power is that {road(best)}: {said(case, best)}, "
            f"good to {100 * 1.96 * _doubt(best):.1f} %{where}."
        ),
        severity=severity,
        next_step=choose + (what if weight else "Nothing to do."),
        because=(best.key,),
        cautions=("local",),
        state=state,
    )


def _without_doubt(case: Case, taken: Number, state: State) -> Finding:
    return Finding(
        code="PW-22",
        subject="load",
        says=f"The power {road(taken)}, {said(case, taken)}, was entered without its doubt",
        severity="soon",
        next_step="Enter by which instrument it was found, or how sure it is: figures by work at the shaft rest on it.",
        because=(taken.key,),
        cautions=("local",),
        state=state,
    )


def _by_fuel(number: Number) -> bool:
    return isinstance(number, Result) and number.worksheet == BY_FUEL


def _doubt(number: Number) -> float:
    """Return the relative standard uncertainty."""
    return number.standard_uncertainty / abs(number.value) if number.value else float("inf")


def _heaviest(worked: Worked, number: Number) -> tuple[str, float, bool] | None:
    """Return the title of the reading that holds most of a number's variance, its share, and whether it was assumed."""
    if isinstance(number, Reading) or not number.standard_uncertainty > 0:
        return None
    key, share = max(worked.shares(number), key=lambda one: one[1], default=("", 0.0))
    if not key or key == REST:
        return None
    names = key.split(" + ")
    title = quantity(names[0].rsplit("/", 1)[1]).title
    return f"'{title}'", share, any(one.key in names for one in number.assumed)
