"""A wanted change traced back: which part of the setting would bring it, and what else each way does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from asfound.errors import InputError
from asfound.quantities.parse import parse_amount, parse_number
from asfound.quantities.register import quantity
from asfound.report.content_whatif_rows import Change, both, change_of
from asfound.report.whatif_anchor import read_at
from asfound.report.whatif_proposed import typed
from asfound.report.whatif_question import PARTS, Question, reach_of
from asfound.whatif.ask import draws_of
from asfound.whatif.uses import ways_to

if TYPE_CHECKING:
    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.whatif_fit import FittedEngine
    from asfound.report.wording import System
    from asfound.whatif.seen import Knob
    from asfound.whatif.uses import Way

TARGETS = {
    "nox": ("nox_dry", "exhaust_nox_dry", "NOx, dry"),
    "exhaust": ("exhaust_temperature", "exhaust_median", "Exhaust temperature at the ports"),
    "peak": ("peak_pressure", "peak_firing_pressure", "Peak pressure"),
    "efficiency": ("efficiency", "brake_efficiency", "Efficiency at the shaft"),
    "knock": ("knock", "", "Nearness to knock"),
}
"""By the word that is typed: number of the answer, quantity, title."""
KNOBS: tuple[Knob, ...] = ("timing", "excess_air_ratio", "charge_temperature")
"""Parts that a hand can set; power is held."""
LEAST, MOST = 0.05, 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WayShown:
    """One way."""

    title: str
    now: str
    then: str
    reached: bool
    cells: tuple[Change, ...]
    question: Question


@dataclass(frozen=True, slots=True, kw_only=True)
class WaysShown:
    """All ways to what is wanted."""

    wanted: str
    heads: tuple[str, ...]
    ways: tuple[WayShown, ...]


def wanted_of(text: str) -> tuple[str, str]:
    """Return the word of the number and the value that is wanted: ``nox 70 %``."""
    word, _, value = text.strip().partition(" ")
    if word.lower() not in TARGETS or not value.strip():
        raise InputError("to", text, "is no number with what it shall be", allowed=", ".join(TARGETS),
                         try_next="Write it as 'nox 70 %' or 'exhaust 950 °F'.")  # fmt: skip
    return word.lower(), value.strip().removeprefix("to ").strip()


def ways_shown(
    view: VisitView,
    state: State,
    fit: FittedEngine,
    text: str,
    system: System,
    *,
    decimal: Literal[".", ","] | None = None,
) -> WaysShown:
    """Return for each part that a hand can set what it would have to be, and what else follows."""
    word, value = wanted_of(text)
    name, _, title = TARGETS[word]
    share = _share(view, state, fit, word, value, system, decimal)
    if not LEAST <= share <= MOST:
        raise InputError("to", value, "is too far from what it is", allowed="5 to 1,000 %")
    if name == "knock" and not np.isfinite(fit.engine.outcome.knock).all():
        raise InputError("to", text, "cannot be traced back: nearness to knock is told of natural gas only")
    found = fit.once(
        ("ways", name, round(share, 6)),
        lambda: ways_to(fit.engine, name, share, KNOBS, power_share=1.0, charger=fit.charger),
        most=2,
    )
    heads = ("NOx", "Efficiency", "Exhaust temperature", "Nearness to knock")
    return WaysShown(
        wanted=f"{title} to {value}", heads=heads, ways=tuple(_way(fit, one, system) for one in found)
    )  # fmt: skip


def _share(
    view: VisitView,
    state: State,
    fit: FittedEngine,
    word: str,
    value: str,
    system: System,
    decimal: Literal[".", ","] | None,
) -> float:
    """Return what is wanted over what the model has now."""
    name, register, title = TARGETS[word]
    if value.endswith("%") and word != "efficiency":
        number = parse_number(value[:-1].strip(), decimal=decimal, field=title).value
        return float("nan") if number is None else float(number) / 100.0
    if not register:
        raise InputError("to", value, "is no share", try_next="Knock is told as a ratio only: write 'knock 80 %'.")
    amount = parse_amount(value, quantity=register, field=title, decimal=decimal, system=system,
                          default_unit=quantity(register).display(system)).value  # fmt: skip
    if amount is None:
        raise InputError(title, value, "is not one value")
    model = float(np.median(draws_of(fit.engine, fit.engine.outcome, name)[0]))
    read = read_at(view, state, register)
    here = float(read.value) if read is not None else model
    return (model + amount - here) / model if word == "exhaust" else amount / here


def _way(fit: FittedEngine, way: Way, system: System) -> WayShown:
    part = next(one for one in PARTS.values() if one.knob == way.knob)
    now = reach_of(fit, part).now
    target = now + way.by / part.factor
    cells = []
    for name, register in (("nox_dry", "exhaust_nox_dry"), ("efficiency", "brake_efficiency"),
                           ("exhaust_temperature", "exhaust_median"), ("knock", "excess_air_ratio")):  # fmt: skip
        pair = draws_of(fit.engine, way.answer.outcome, name)
        cells.append(change_of(*pair, register, system, by_share=name != "exhaust_temperature"))
    return WayShown(
        title=part.title, now=both(part, now, system), then=both(part, target, system), reached=way.reached,
        cells=tuple(cells), question=Question(typed={part.name: typed(part.name, target, system)}),
    )  # fmt: skip
