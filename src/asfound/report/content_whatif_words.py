"""What-if in words: the answer as a sentence, the permit line, knock, what the model can and cannot say."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from asfound.fuel.methane_number import COMPONENTS, UNDECIDED, methane_number
from asfound.quantities.case_numbers import held
from asfound.quantities.display import chance
from asfound.report.content_whatif_rows import Change, change_of, said_of
from asfound.report.whatif_permit import Judged, beyond_now, judged, other_limits, treated
from asfound.report.whatif_question import PARTS, said_value
from asfound.report.wording import say
from asfound.whatif.ask import draws_of
from asfound.whatif.numbers_of_case import gas_of
from asfound.whatif.usual import GAS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.whatif_fit import FittedEngine
    from asfound.report.whatif_question import Asked
    from asfound.report.wording import System
    from asfound.whatif.ask import Answer

SURE = 0.95
CAN = (
    "What a small change of timing, mixture, charge air, humidity, gas or power does, near the setting that was read: "
    "which way it goes, about how far, and how sure that is.",
    "Power, efficiency, exhaust temperature, peak pressure, NOx and oxygen as the mean of all cylinders, at steady "
    "load; each with the interval that holds the true value 95 times in 100.",
)
CANNOT = (
    "Misfire, knock of one cylinder, differences between cylinders and cycles. Near the lean end of the range misfire "
    "comes before the limit that the model sees.",
    "CO of lean exhaust, methane that slips through, formaldehyde. A leaner or colder engine makes more of them.",
    "Prechambers, what compressor and turbine forbid, valves, load steps.",
    "It was held against no engine whose indicator diagram is published: before a fit such a model is good to 10 to "
    "15 % of peak pressure and a factor of 2 to 3 of NO.",
)
DECIDES = (
    "Nothing here moves a setting. The engine's manual, the permit and a qualified person decide; what was changed is "
    "read again."
)
CAUTIONS = ("config", "unburnt", "co", "hot", "local")


@dataclass(frozen=True, slots=True, kw_only=True)
class PermitLine:
    """A limit, and how sure it is passed now and as proposed."""

    title: str
    limit: str
    now: str
    then: str
    """Empty where nothing is asked."""
    chance_now: str
    chance_then: str
    kept: bool | None
    """As proposed (as it runs where nothing is asked): kept for sure, passed for sure, or neither."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnockLine:
    """Nearness to knock, and the gas."""

    ratio: str
    """Over that as it runs; empty where nothing is asked."""
    says: str
    methane_number: str
    needs: str


def permit_lines(
    view: VisitView, state: State, fit: FittedEngine, answer: Answer | None, system: System
) -> tuple[tuple[PermitLine, ...], tuple[str, ...]]:
    """Return the limits that the model can be held against, and what is to be said of the others."""
    outcome = answer.outcome if answer else fit.engine.outcome
    lines = []
    for one in judged(view, state, fit.engine, outcome):
        over = one.beyond(one.then)
        then = said_of(one.then, one.limit.quantity, system)
        now, chance_now = _as_read(view, state, one, system)
        lines.append(
            PermitLine(
                title=f"{one.limit.name} for NOx", limit=one.limit.as_typed,
                now=now, then=f"{then.whole}, {then.interval}" if answer else "",
                chance_now=chance(chance_now), chance_then=chance(over) if answer else "",
                kept=True if over <= 1.0 - SURE else False if over >= SURE else None,
            )
        )  # fmt: skip
    says = []
    if treated(view):
        says.append(
            "NOx was read behind a catalyst. The model gives what leaves the engine, so the limit is not judged here."
        )
    if others := other_limits(view):
        says.append(f"Not in the model, so not judged: {'; '.join(others)}. Measure them after every change.")
    return tuple(lines), tuple(says)


def _as_read(view: VisitView, state: State, one: Judged, system: System) -> tuple[str, float]:
    """Return the number now and its chance to be beyond: as read and judged beside the limit, else by the draws."""
    number, beyond = beyond_now(view, state, one)
    said = said_of(one.now, one.limit.quantity, system) if number is None else say(number, system)
    return f"{said.whole}, {said.interval}" if said.interval else said.whole, beyond


def knock_line(
    view: VisitView, fit: FittedEngine, answer: Answer | None, asked: Asked, state: State, system: System
) -> KnockLine:
    """Return nearness to knock as a ratio, beside the methane number of the gas and what the build needs."""
    gas = asked.fuel or gas_of(view.worked, state) or ({} if GAS in fit.modelled.unread else fit.engine.fuel)
    number = number_of(gas) if gas else float("nan")
    needed = held(view.worked, state, "engine", "required_methane_number")
    ratio, says = "", "Knock is told only as a ratio to the engine as it runs."
    if answer is not None and not np.isfinite(answer.number("knock").share[1]):
        says = (
            "Nearness to knock cannot be told of this gas: what it rests on was measured with natural gas. Look at the "
            "methane number."
        )
    elif answer is not None:
        found = said_of(draws_of(fit.engine, answer.outcome, "knock")[1], "excess_air_ratio", system)
        ratio = f"{found.value}, {found.interval}"
        up = answer.number("knock").chance_up
        says = (
            "Nearer to knock than now." if up >= SURE else "Farther from knock than now." if up <= 1.0 - SURE
            else "Whether it comes nearer to knock cannot be told."
        )  # fmt: skip
        if max(answer.number("knock").share) - min(answer.number("knock").share) < 1e-9:
            says = "As near to knock as now."
    return KnockLine(
        ratio=ratio, says=says,
        methane_number=f"{number:.0f}, {number - UNDECIDED:.0f} to {number + UNDECIDED:.0f}"
        if number == number else "no answer" if gas else "not known: nobody analysed it",
        needs=f"{needed.value:.0f}" if needed is not None else "",
    )  # fmt: skip


def number_of(gas: Mapping[str, float]) -> float:
    """Return the methane number of a gas by its components; nan where it has none."""
    return _number_of(tuple(sorted(gas.items())))


@lru_cache(maxsize=16)
def _number_of(gas: tuple[tuple[str, float], ...]) -> float:
    names = {"n-hexane": "hexanes_plus"}
    fractions = np.zeros(len(COMPONENTS))
    for name, share in gas:
        known = names.get(name, name.replace("-", "_").replace(" ", "_"))
        if known in COMPONENTS:
            fractions[COMPONENTS.index(known)] += share
    return float(methane_number(fractions))


def headline(
    fit: FittedEngine, answer: Answer | None, lines: tuple[PermitLine, ...], state_words: str, system: System
) -> tuple[str, str]:
    """Return the answer as one sentence, and what stands below it."""
    if answer is None:
        return (
            f"The model agrees with the engine {state_words}." if not fit.engine.says
            else f"The model cannot be brought to agree with all that was read {state_words}.",
            "Change a part of the setting, and the answer follows.",
        )  # fmt: skip
    nox = answer.number("nox_dry")
    low, middle, high = (100.0 * (one - 1.0) for one in nox.share)
    name = "NOx before the catalyst" if fit.modelled.near_one else "NOx"
    if nox.chance_up >= SURE:
        said = f"{name} rises by {_per_cent(low, high, middle)}"
    elif nox.chance_up <= 1.0 - SURE and high < 0.0:
        said = f"{name} falls by {_per_cent(-high, -low, -middle)}"
    else:
        said = f"{name} hardly changes, or it cannot be told"
    if lines:
        kept = {True: "the permit is kept", False: "the permit is passed", None: "the permit is not sure to be kept"}
        said += f"; {kept[lines[0].kept]}"
    now, then = draws_of(fit.engine, answer.outcome, "efficiency")
    heat = draws_of(fit.engine, answer.outcome, "exhaust_temperature")
    share = change_of(now, then, "brake_efficiency", system, by_share=True)
    port = change_of(*heat, "exhaust_median", system, by_share=False)
    below = f"Efficiency {share.value} of itself{_within(share)}; exhaust at the ports {port.value}{_within(port)}."
    return f"{said}.", below


def _within(change: Change) -> str:
    return f" ({change.interval})" if change.interval else ""


def _per_cent(low: float, high: float, middle: float) -> str:
    return f"{middle:.0f} % ({low:.0f} to {high:.0f})"


def asked_words(asked: Asked, gas: str, system: System) -> str:
    """Return what is asked in one line: ``Mixture, lambda 1.74; power as read``."""
    said = [f"{PARTS[name].title} {said_value(PARTS[name], value, system)}" for name, value in asked.targets.items()]
    if asked.fuel is not None:
        said.append(f"gas: {gas}")
    if "power" not in asked.targets and said:
        said.append("power held as read, by the manifold pressure")
    return "; ".join(one if at == 0 else one[:1].lower() + one[1:] for at, one in enumerate(said))
