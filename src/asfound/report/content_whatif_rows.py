"""Rows of what-if: the parts of a setting with their reach, numbers as found, as left and proposed, sensitivities."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from asfound.quantities.display import number_text, show, with_interval
from asfound.quantities.register import quantity
from asfound.quantities.units import unit as unit_of
from asfound.quantities.words import STATES
from asfound.report.whatif_anchor import anchored, read_at
from asfound.report.whatif_permit import BY_MASS_AT, basis_of, counted, nox_limits
from asfound.report.whatif_question import PARTS, Part, Reach, allowed, reach_of, said_value
from asfound.report.wording import Said, say
from asfound.whatif.ask import draws_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from asfound.quantities.typing import Array
    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.whatif_fit import FittedEngine
    from asfound.report.whatif_question import Asked, Question
    from asfound.report.wording import System
    from asfound.whatif.ask import Answer

OTHER: dict[str, System] = {"si": "us", "us": "si"}
DECIMALS = {"timing": 2, "mixture": 2, "charge": 1, "air": 1, "humidity": 1, "power": 0}
SHOWN = (
    ("power", "engine_power", "Power"),
    ("efficiency", "brake_efficiency", "Efficiency at the shaft, net"),
    ("exhaust_temperature", "exhaust_median", "Exhaust temperature at the ports"),
    ("peak_pressure", "peak_firing_pressure", "Peak pressure"),
    ("nox_dry", "exhaust_nox_dry", "NOx, dry, as an analyser shows it"),
    ("oxygen_dry", "exhaust_oxygen_dry", "Oxygen, dry"),
)
"""Numbers of the comparison beside those of the permit: of the answer, in the register, as titled here."""
MONOXIDE = ("co_dry", "exhaust_co_dry", "CO before the catalyst, dry")
"""Shown near lambda 1 only."""
BY_SHARE = ("efficiency", "peak_pressure", "nox_dry", "nox", "co_dry")
"""Numbers whose change is told in per cent of themselves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartShown:
    """A slider with its field, in the reader's unit."""

    name: str
    title: str
    unit: str
    typed: str
    """What stands in the field."""
    now: str
    """As it was read, in both systems."""
    both: str
    """What is asked, in both systems."""
    low: str
    high: str
    step: str
    at: str
    """Of the slider: plain numbers."""
    allowed: str
    complaint: str = ""
    choices: Mapping[str, str] = field(default_factory=dict)
    changed: bool = False
    key: str = ""
    """Of the reading that it starts from."""
    assumed: bool = False
    """Nobody read it: a usual value stands for it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A number of the comparison."""

    said: Said
    read: bool
    """False: by the model."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowShown:
    """A number as found, as left and as proposed."""

    name: str
    title: str
    unit: str
    cells: Mapping[str, Cell | None]
    """By ``as_found``, ``as_left``, ``proposed``."""
    change: Change | None
    """None where nothing is asked."""


def parts_of(fit: FittedEngine, question: Question, asked: Asked, system: System) -> tuple[PartShown, ...]:
    """Return the sliders."""
    return tuple(_part(fit, part, reach_of(fit, part), question, asked, system) for part in PARTS.values())


def _part(fit: FittedEngine, part: Part, reach: Reach, question: Question, asked: Asked, system: System) -> PartShown:
    about = quantity(part.quantity)
    symbol = about.display(system)
    target = asked.targets.get(part.name, reach.now)
    step = part.step.get(symbol, 1.0)
    ends = sorted(about.to_unit(one, symbol) for one in (reach.low, reach.high))
    steps = (float(np.ceil(ends[0] / step - 1e-6) * step) + 0.0, float(np.floor(ends[1] / step + 1e-6) * step))
    places = DECIMALS[part.name]
    here = about.to_unit(target, symbol)
    key = part.name if part.knob is None else str(part.knob)
    return PartShown(
        name=part.name, title=part.title, unit="" if symbol == "1" else unit_of(symbol).text,
        typed=question.of(part.name), now=both(part, reach.now, system), both=both(part, target, system),
        low=f"{steps[0] + 0.0:.{places}f}", high=f"{steps[1]:.{places}f}", step=f"{step:g}", at=f"{here:.{places}f}",
        allowed=allowed(part, reach, system), complaint=asked.complaints.get(part.name, ""),
        choices=asked.choices.get(part.name, {}), changed=part.name in asked.targets,
        key=fit.modelled.keys.get(key, ""), assumed=part.quantity in fit.modelled.unread,
    )  # fmt: skip


def both(part: Part, value: float, system: System) -> str:
    """Return a value in the reader's units, the other system's behind it where they differ."""
    here, there = (said_value(part, value, one) for one in (system, OTHER[system]))
    return here if here == there else f"{here} ({there})"


def rows_of(
    view: VisitView, fit: FittedEngine, answer: Answer | None, state: State, system: System
) -> tuple[RowShown, ...]:
    """Return the comparison; without an answer the model's numbers as it runs stand for what was not read."""
    rows = [_row(view, fit, answer, state, system, one) for one in SHOWN]
    if fit.modelled.near_one and _has_monoxide(fit, answer):
        rows.append(_row(view, fit, answer, state, system, MONOXIDE))
    basis = basis_of(view)
    outcome = answer.outcome if answer else fit.engine.outcome
    names = dict.fromkeys(one.quantity for one in nox_limits(view) if one.quantity != "exhaust_nox_dry")
    for name in names or ("nox_mass_per_energy",):
        now, then = counted(fit.engine, outcome, name, basis)
        title = "NOx by mass at the permit's oxygen" if name == BY_MASS_AT else quantity(name).title
        rows.insert(5, _told(view, state, system, "nox", name, title, (now, then), answer))
    return tuple(rows)


def _has_monoxide(fit: FittedEngine, answer: Answer | None) -> bool:
    """Tell whether carbon monoxide is a matter of equilibrium in all draws, now and as asked."""
    outcomes = (fit.engine.outcome, *((answer.outcome,) if answer else ()))
    return all(bool(np.isfinite(one.co_dry).all()) for one in outcomes)


def _row(
    view: VisitView,
    fit: FittedEngine,
    answer: Answer | None,
    state: State,
    system: System,
    shown: tuple[str, str, str],
) -> RowShown:
    name, register, title = shown
    outcome = answer.outcome if answer else fit.engine.outcome
    given = name == "power" and answer is not None and answer.held
    pair = draws_of(fit.engine, outcome, name, given=given)
    return _told(view, state, system, name, register, title, pair, answer, _beside(fit, name))


def _beside(fit: FittedEngine, name: str) -> Array | None:
    """Return a number at the other state of the visit, by the model; None where it was not fitted to."""
    for visit, outcome in zip(fit.engine.visits[1:], fit.engine.outcomes[1:], strict=False):
        if visit.name in STATES and outcome.power.size == fit.engine.outcome.power.size:
            return draws_of(fit.engine, outcome, name)[1]
    return None


def _told(
    view: VisitView,
    state: State,
    system: System,
    name: str,
    register: str,
    title: str,
    draws: tuple[Array, Array],
    answer: Answer | None,
    beside: Array | None = None,
) -> RowShown:
    now, then = anchored(view, state, register, *draws)
    cells: dict[str, Cell | None] = {}
    for one in STATES:
        number = read_at(view, one, register)
        cells[one] = Cell(said=say(number, system), read=True) if number is not None else None
        if cells[one] is None and one == state:
            cells[one] = Cell(said=said_of(now, register, system), read=False)
        if cells[one] is None and beside is not None and one != state:
            there = anchored(view, state, register, draws[0], beside)[1]
            cells[one] = Cell(said=said_of(there, register, system), read=False)
    cells["proposed"] = Cell(said=said_of(then, register, system), read=False) if answer else None
    unit = next((one.said.unit for one in cells.values() if one is not None), "")
    return RowShown(
        name=name, title=title, unit=unit.partition(" (")[0], cells=cells,
        change=_changed(now, then, register, system, name, answer),
    )  # fmt: skip


def _changed(now: Array, then: Array, register: str, system: System, name: str, answer: Answer | None) -> Change | None:
    """Return the change of a row; of a power that was asked for there is nothing to foretell."""
    if answer is None:
        return None
    if name == "power" and answer.held:
        share = float(np.median(then / now))
        return Change("held") if abs(share - 1.0) < 0.01 else Change(f"as asked, {100.0 * share:.0f} %")
    return change_of(now, then, register, system, by_share=name in BY_SHARE)


def said_of(values: Array, name: str, system: System) -> Said:
    """Return draws as their middle with 95 in 100."""
    low, middle, high = (float(one) for one in np.quantile(values, [0.025, 0.5, 0.975]))
    shown = show(middle, name, system=system, interval=(low, high) if high > low else None)
    return Said(shown.value, "" if shown.unit == "1" else shown.unit, shown.interval)


@dataclass(frozen=True, slots=True)
class Change:
    """A change with its interval."""

    value: str
    interval: str = ""

    @property
    def whole(self) -> str:
        """``−12 % (−15 to −9)``."""
        return f"{self.value} ({self.interval})" if self.interval else self.value


def change_of(now: Array, then: Array, name: str, system: System, *, by_share: bool) -> Change:
    """Return a change with 95 in 100: in per cent of itself, else in the reader's unit."""
    about = quantity(name)
    symbol = about.display(system)
    if by_share:
        values, unit = 100.0 * (then / now - 1.0), "%"
    else:
        scale = about.to_unit(1.0, symbol) - about.to_unit(0.0, symbol)
        values, unit = scale * (then - now), "points" if symbol == "%" else TEMPERATURES.get(symbol, _text(symbol))
    low, middle, high = (float(one) for one in np.quantile(values, [0.025, 0.5, 0.975]))
    if not np.isfinite(middle):
        return Change("\N{EN DASH}")
    if max(abs(low), abs(high)) < LEAST:
        return Change(f"0 {unit}")
    if high - low < LEAST:
        return Change(f"{signed(number_text(middle, 3, 2))} {unit}")
    low, high = min(low, middle - 0.05), max(high, middle + 0.05)  # no more than one decimal
    texts = with_interval(middle, low, high)
    return Change(f"{signed(texts[0])} {unit}", f"{signed(texts[1])} to {signed(texts[2])}")


TEMPERATURES = {"°C": "K", "°F": "°F"}
LEAST = 5e-3
"""Of a change in per cent, points or the reader's unit, below which it is none."""


def _text(symbol: str) -> str:
    return unit_of(symbol).text


def signed(text: str) -> str:
    """Return a number with its sign, a plus too."""
    nought = not text.strip("−0.,")
    return text.lstrip("−") if nought else text if text.startswith("−") else f"+{text}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SensitivityRow:
    """What a small change of one part of the setting does."""

    title: str
    cells: tuple[Change, ...]


HEADS = ("NOx", "Efficiency", "Exhaust temperature", "Peak pressure", "Nearness to knock")


def sensitivity_row(title: str, answer: Answer, fit: FittedEngine, system: System) -> SensitivityRow:
    """Return the row of an answer."""
    found = []
    for name, register in (("nox_dry", "exhaust_nox_dry"), ("efficiency", "brake_efficiency"),
                           ("exhaust_temperature", "exhaust_median"), ("peak_pressure", "peak_firing_pressure"),
                           ("knock", "excess_air_ratio")):  # fmt: skip
        now, then = draws_of(fit.engine, answer.outcome, name)
        found.append(change_of(now, then, register, system, by_share=name != "exhaust_temperature"))
    return SensitivityRow(title=title, cells=tuple(found))


def listed_complaints(parts: Sequence[PartShown]) -> tuple[str, ...]:
    """Return what cannot be, each with its title."""
    return tuple(f"{one.title}: {one.complaint}" for one in parts if one.complaint)
