"""Findings of the load carried: whether the roads to it agree, which one a permit can lean on, and the generator."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from asfound.fuel.case_numbers import Number, each_state, held, number_at, said
from asfound.power.generator import poles as poles_of
from asfound.quantities.agreement import Agreement, Beside, agreement_of
from asfound.quantities.display import chance
from asfound.quantities.findings import Case
from asfound.quantities.limits import SURE, UNSURE
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
LOW_FACTOR = 0.02
"""Below the plate's power factor by more than this, and it is told (engineering judgement)."""
POLE_MISS, FREQUENCY_MISS = 0.01, 0.03
"""Speed against frequency, and frequency against that of the rated speed (engineering judgement)."""


def find(case: Case) -> Iterator[Finding]:
    """Yield what the numbers of the load mean together."""
    for state in STATES:
        roads = agreement_of(case.worked, f"{state}/engine/engine_power")
        if roads is not None:
            yield from _roads(case, roads, state)
        yield from _for_the_permit(case, roads, state)
    for load in each_state(case.worked, "generator", "generator_apparent_load"):
        yield from _apparent_load(case, load)
    for factor in each_state(case.worked, "generator", "generator_power_factor"):
        yield from _factor(case, factor)
    for frequency in each_state(case.worked, "generator", "generator_frequency"):
        yield from _frequency(case, frequency)


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
    share = abs(away) / abs(taken.value) if taken.value else float("nan")
    behind = most_of_the_doubt(case.worked, taken, other)
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
            f"The engine's power {road(other.number)}, {said(case, other.number)}, stands {100 * share:.1f} % "
            f"{'over' if away > 0 else 'under'} that {road(taken)}, {said(case, taken)}: "
            f"{other.in_doubts:.1f} times the doubt of their difference.{where}"
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
    all_ = [one for one in (roads.numbers if roads else (taken,)) if not _by_fuel(one)]
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


def _apparent_load(case: Case, load: Number) -> Iterator[Finding]:
    drawn = case.worked.draws(load)
    finite = drawn[np.isfinite(drawn)]
    over = float(np.count_nonzero(finite > 1.0)) / finite.size if finite.size else float(load.value > 1.0)
    if over <= UNSURE:
        return
    sure = over >= SURE
    yield Finding(
        code="PW-23",
        subject="load",
        says=f"The generator {'is over' if sure else 'may be over'} its rated kVA: {said(case, load)} of it",
        severity="visit" if sure else "soon",
        next_step=(
            f"{chance(over)} to be over. Look at winding and bearing temperatures; bring the power factor up, or the "
            "load down, in agreement with the operator. The engine may have power left all the same."
        ),
        compared_with="rated apparent power of the plate",
        probability=over,
        because=(load.key,),
        cautions=("elec", "hot", "local"),
        state=load.state,
    )


def _factor(case: Case, factor: Number) -> Iterator[Finding]:
    reactive = number_at(case.worked, factor.state, "generator", "generator_reactive_power")
    leading = factor.value < 0 or (reactive is not None and reactive.value < 0)
    rated = held(case.worked, factor.state, "generator", "generator_rated_power_factor")
    low = rated is not None and abs(factor.value) < rated.value - LOW_FACTOR - 2 * factor.standard_uncertainty
    if not (leading or low):
        return
    stands = "leads" if leading else f"is below the {rated.value:.2f} of the plate" if rated else "is low"
    yield Finding(
        code="PW-24",
        subject="load",
        says=f"The power factor, {said(case, factor)}, {stands}",
        severity="soon",
        next_step=(
            "Ask the operator whether it is meant: a leading set is held weakly by its exciter. Look at the voltage "
            "setting and the sharing of kvar between sets."
            if leading
            else "Check kvar sharing and the voltage setting; current and losses of the generator are higher than its "
            "kilowatts say. The engine's power is not changed by it."
        ),
        because=tuple(one.key for one in (factor, reactive if leading else rated) if one is not None),
        cautions=("elec", "local"),
        state=factor.state,
    )


def _frequency(case: Case, frequency: Number) -> Iterator[Finding]:
    """Yield where frequency, speed and poles do not fit each other, or the frequency is not that of the plate."""
    worked, state = case.worked, frequency.state
    poles = held(worked, state, "generator", "generator_poles")
    speed = next((one for one in worked.readings if one.key == f"{state}/engine/engine_speed"), None)
    if speed is not None and speed.value > 0 and frequency.value > 0:
        needed = float(poles_of(frequency.value, speed.value))
        whole = poles.value if poles is not None else max(2.0, 2.0 * round(needed / 2))
        doubt = 2 * float(np.hypot(_doubt(frequency), _doubt(speed)))
        if abs(needed / whole - 1) > max(POLE_MISS, doubt):
            yield _misfit(
                state,
                f"{said(case, frequency)} at {said(case, speed)} asks for {needed:.2f} poles, "
                + (f"the plate has {whole:.0f}" if poles is not None else "which no generator has"),
                "Read both again, the speed by a stroboscope or the teeth of the flywheel; count the poles; look "
                "whether there is a gear between engine and generator.",
                (frequency, speed, *([poles] if poles is not None else [])),
            )
    rated = held(worked, state, "engine", "rated_speed")
    if poles is not None and rated is not None and frequency.value > 0:
        plate = rated.value * poles.value / (4 * np.pi)
        if abs(frequency.value / plate - 1) > FREQUENCY_MISS:
            yield _misfit(
                state,
                f"The set runs at {said(case, frequency)}; rated speed and {poles.value:.0f} poles make {plate:.1f} Hz",
                "The rated power belongs to the rated speed: ask which network the engine was built for, and which "
                "rating holds at this one.",
                (frequency, poles, rated),
            )


def _misfit(state: State, says: str, advice: str, behind: tuple[Number, ...]) -> Finding:
    return Finding(
        code="PW-25",
        subject="load",
        says=says,
        severity="clash",
        next_step=advice,
        because=tuple(one.key for one in behind),
        cautions=("rotating", "elec"),
        state=state,
    )
