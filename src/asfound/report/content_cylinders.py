"""The exhaust temperatures of the cylinders as pages and papers show them: levels, deviations, against their habit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.cylinders.engine_numbering import both_numbers, operator_convention
from asfound.cylinders.findings_spread import as_always, told_odd
from asfound.cylinders.inference_words import in_hundred
from asfound.cylinders.mask import WORDS, Mark
from asfound.cylinders.spread_of_case import BY_NOTHING, TEMPERATURE, judged
from asfound.quantities.units import unit
from asfound.quantities.words import STATES
from asfound.report.axis import Band
from asfound.report.axis import Mark as Shown
from asfound.report.content_lanes import MARKS, STATE_WORDS, number_at
from asfound.report.engine_plan import EngineDrawing
from asfound.report.habit import Kept, Row
from asfound.report.of_visit import drawing_of_engine
from asfound.report.ports import Level
from asfound.report.wording import day_words, natural, say, say_value, unit_words

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.cylinders.spread_of_case import Cylinder, SpreadOfVisit
    from asfound.quantities.findings import Case
    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.wording import System

DEVIATION = "cylinder_exhaust_deviation"
ENDS = {"free_end": "free end", "driving_end": "flywheel end"}
BANK_TITLES = {"left_bank": "left bank", "right_bank": "right bank", "engine": "all cylinders"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PortState:
    """One port in one state."""

    temperature: str
    deviation: str
    interval: str
    against_habit: str
    """Change against the usual one; empty without history."""
    chance: str
    """That it is truly off by more than the limit, where it is odd."""
    words: str
    """What is to be said of it in a few words."""
    odd: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """One cylinder with both its numbers, in every state that was read."""

    place: str
    builder: str
    operator: str
    """Empty where the site counts as the builder does."""
    bank: str
    states: Mapping[State, PortState]
    moved: str
    """As left less as found, of the temperature, where both were read."""

    @property
    def both(self) -> str:
        """``3 (the site's 7)``."""
        return f"{self.builder} (the site's {self.operator})" if self.operator else self.builder


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """The engine with its levels in one state, for `report.svg.engine_ports`."""

    state: State
    picture: dict[str, Any]
    says: tuple[str, ...]
    """Sentences below it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinders:
    """All of it."""

    ports: tuple[Port, ...]
    """In the order in which they are counted."""
    drawn: Mapping[State, Drawn]
    habit: dict[str, Any] | None
    """For `report.svg.habit`."""
    judged_by: str
    compared: str
    """What they are compared with, in words; empty without history."""
    spread: Mapping[State, SpreadOfVisit]


def cylinders_shown(view: VisitView, case: Case, system: System, *, href: str = "") -> Cylinders:
    """Return what is to be shown of the ports of a visit.

    Parameters
    ----------
    href : str
        Address of the field of a reading with ``{key}`` in it; empty: drawings have no links.
    """
    spreads = {state: found for state in STATES if (found := judged(case, state)) is not None}
    drawing = drawing_of_engine(view.engine.content)
    numbers = _numbers(view, drawing, spreads)
    aside = set_aside(view)
    made = tuple(_port(case, place, numbers[place], spreads, system, aside) for place in numbers)
    states = tuple(spreads) or ("as_found",)
    drawn = {
        state: Drawn(
            state=state,
            picture=_picture(view, drawing, numbers, state, spreads.get(state), system, href, aside),
            says=_below(drawing, spreads.get(state), system, numbers, aside),
        )
        for state in states
    }
    first = next(iter(spreads.values()), None)
    return Cylinders(
        ports=made,
        drawn=drawn,
        habit=_habit(made, spreads, system),
        judged_by=_basis(first, system) if first else "",
        compared=_compared(view, first),
        spread=spreads,
    )


def set_aside(view: VisitView) -> dict[str, str]:
    """Return what stands where a reading was judged false: it was read, and is worked out without."""
    return {
        key: f"judged false by {one.judged_false.who}"
        for key, one in view.readings.items()
        if one.judged_false is not None and one.quantity == TEMPERATURE
    }


def _numbers(
    view: VisitView, drawing: EngineDrawing | None, spreads: Mapping[State, SpreadOfVisit]
) -> dict[str, tuple[str, str]]:
    """Return builder's and site's number of each place, as they are counted; the site's empty where it is the same."""
    two = operator_convention(view.engine.content) is not None
    known = both_numbers(view.engine.content)
    if known:
        found = {one.place: (one.builder, one.operator if two else "") for one in known}
    elif drawing is not None:
        found = {f"cylinder_{name}": (name, "") for row in drawing.cylinder_names() for name in row}
    else:
        found = {}
    for one in spreads.values():
        for each in one.cylinders:
            found.setdefault(each.place, (each.name, ""))
    return dict(sorted(found.items(), key=lambda pair: natural(pair[0])))


# ---------------------------------------------------------------------- in numbers and words


def difference(value: float, system: System) -> str:
    """Return a difference of temperatures with its sign and unit, whole degrees; 0 has no sign."""
    amount = value / unit(unit_words(DEVIATION, system)).factor
    sign = "" if round(amount) == 0 else "+" if amount > 0 else "−"
    return f"{sign}{abs(amount):.0f} {unit_words(DEVIATION, system)}"


def short(value: float, system: System) -> str:
    """Return the same without the unit, for a port."""
    return difference(value, system).split(" ")[0]


def _range(interval: tuple[float, float], system: System) -> str:
    low, high = (short(one, system) for one in interval)
    return f"{low} to {high}"


def _port(
    case: Case,
    place: str,
    numbers: tuple[str, str],
    spreads: Mapping[State, SpreadOfVisit],
    system: System,
    aside: Mapping[str, str],
) -> Port:
    states: dict[State, PortState] = {}
    read = {}
    for state, spread in spreads.items():
        one = spread.at(place)
        number = number_at(case.worked, f"{state}/{place}/{TEMPERATURE}")
        if one is None or (number is None and one.mark != Mark.NOT_READ):
            continue
        if number is not None:
            read[state] = number.value
        states[state] = _port_state(one, say(number, system).whole if number is not None else "", system, aside)
    moved = difference(read["as_left"] - read["as_found"], system) if len(read) == 2 else ""
    bank = next((one.bank for spread in spreads.values() if (one := spread.at(place)) is not None), "engine")
    return Port(place=place, builder=numbers[0], operator=numbers[1], bank=bank, states=states, moved=moved)


def _port_state(one: Cylinder, temperature: str, system: System, aside: Mapping[str, str]) -> PortState:
    known = math.isfinite(one.deviation)
    return PortState(
        temperature=temperature,
        deviation=difference(one.deviation, system) if known else "",
        interval=_range(one.interval, system) if known else "",
        against_habit=difference(one.residual, system) if math.isfinite(one.residual) else "",
        chance=in_hundred(one.probability_off) if one.odd and math.isfinite(one.probability_off) else "",
        words=_words(one, aside),
        odd=one.odd if told_odd(one) else 0,
    )


def port_states(case: Case, system: System) -> dict[str, PortState]:
    """Return how the ports of a visit stood in the end, by place: as left, else as found."""
    found: dict[str, PortState] = {}
    for state in STATES:
        spread = judged(case, state)
        known = [one for one in spread.cylinders if math.isfinite(one.deviation)] if spread is not None else []
        found |= {one.place: _port_state(one, "", system, {}) for one in known}
    return found


def _words(one: Cylinder, aside: Mapping[str, str]) -> str:
    """Return what is to be said of a port in a few words."""
    if one.mark != Mark.VALID:
        return aside.get(one.key, WORDS[one.mark])
    if not math.isfinite(one.deviation):
        return "too few ports of its bank were read for a median"
    if one.odd and as_always(one):
        return f"stands {_heat(one.odd)}, as it usually does"
    if one.odd:
        return f"stands apart: {_heat(one.odd)}"
    if one.changed:
        return f"has gone {'hotter' if one.changed > 0 else 'colder'} than is usual for it"
    if one.beyond_limit:
        return "far off, but the others scatter as well"
    return "as usual for it" if math.isfinite(one.residual) else "with the others"


def _heat(sign: float) -> str:
    return "hot" if sign > 0 else "cold"


def _basis(spread: SpreadOfVisit, system: System) -> str:
    """Return what is looked into, in words."""
    limit = difference(spread.limit, system).removeprefix("+")
    count = "the scatter of the others counts as well" if "modified z" in spread.basis_words else spread.basis_words
    return f"Looked into from {limit} off the median of the bank (common practice, no source); {count}."


def _compared(view: VisitView, spread: SpreadOfVisit | None) -> str:
    if spread is None or spread.compared == BY_NOTHING:
        return ""
    if view.previous is not None and spread.compared == "the last visit":
        said = f"the visit of {day_words(view.previous.visit.date)}"
        if (
            math.isfinite(spread.load)
            and math.isfinite(spread.load_then)
            and abs(spread.load - spread.load_then) > 0.05
        ):
            said += (
                f" (at {100 * spread.load_then:.0f} % load, now {100 * spread.load:.0f} %: a pattern shifts with load)"
            )
        return said
    return spread.compared


# ---------------------------------------------------------------------- the drawing


def _picture(
    view: VisitView,
    drawing: EngineDrawing | None,
    numbers: Mapping[str, tuple[str, str]],
    state: State,
    spread: SpreadOfVisit | None,
    system: System,
    href: str,
    aside: Mapping[str, str],
) -> dict[str, Any]:
    """Return what `engine_ports` is given, without width and direction."""
    rows = drawn_rows(view, drawing, numbers)
    shown = drawing or EngineDrawing(tag=view.engine.tag, cylinders=max(len(numbers), 1), known=False)
    levels = tuple(tuple(_level(place, numbers, state, spread, system, href, aside) for place in row) for row in rows)
    odd = [one.says for row in levels for one in row if one.odd]
    what = f"Plan of {view.engine.tag}, exhaust temperature of each cylinder against the median of its bank, "
    what += f"{STATE_WORDS[state]}. "
    what += " ".join(odd) if odd else "None stands apart." if spread else "None was read."
    return {"drawing": shown, "rows": levels, "label": what, "heads": _heads(rows, spread, system)}


def drawn_rows(
    view: VisitView, drawing: EngineDrawing | None, numbers: Mapping[str, tuple[str, str]]
) -> list[list[str]]:
    """Return the places of the rows from the flywheel end on, the left one first."""
    if drawing is None:
        return [list(numbers) or ["cylinder_1"]]
    along = [one.place for one in both_numbers(view.engine.content)] or [
        f"cylinder_{name}" for row in drawing.cylinder_names() for name in row
    ]
    count = drawing.per_row
    return [along[:count], along[count:]] if drawing.layout == "vee" else [along]


def _level(
    place: str,
    numbers: Mapping[str, tuple[str, str]],
    state: State,
    spread: SpreadOfVisit | None,
    system: System,
    href: str,
    aside: Mapping[str, str],
) -> Level:
    builder, operator = numbers.get(place, (place.removeprefix("cylinder_"), ""))
    one = spread.at(place) if spread else None
    known = one is not None and one.mark == Mark.VALID and math.isfinite(one.deviation)
    name = f"Cylinder {builder}" + (f", the site's {operator}," if operator else "")
    if one is not None and known and spread is not None:
        says = f"{name} {difference(one.deviation, system)} from the median, {_words(one, aside)}."
    else:
        says = f"{name}: {_words(one, aside) if one is not None and spread is not None else 'not read'}."
    return Level(
        name=builder,
        other=operator,
        level=max(-1.0, min(1.0, one.deviation / spread.limit)) if one is not None and known and spread else None,
        text=short(one.deviation, system) if one is not None and known else "",
        odd=one.odd if one is not None and known and told_odd(one) else 0,
        masked=one is not None and (one.mark != Mark.NOT_READ or one.key in aside),
        says=says,
        href=href.format(key=f"{state}/{place}/{TEMPERATURE}") if href else "",
    )


def _heads(rows: list[list[str]], spread: SpreadOfVisit | None, system: System) -> tuple[str, ...]:
    """Return name and median of the bank of each row."""
    if spread is None:
        return ("left bank", "right bank") if len(rows) == 2 else ()
    found = []
    for at, row in enumerate(rows):
        inside = [one for one in spread.cylinders if one.place in row and math.isfinite(one.deviation)]
        name = (
            "" if len(rows) == 1 else BANK_TITLES.get(inside[0].bank, "") if inside else ("left bank", "right bank")[at]
        )
        median = f"median {say_value(inside[0].value - inside[0].deviation, TEMPERATURE, system)}" if inside else ""
        found.append(", ".join(part for part in (name, median) if part))
    return tuple(found)


def _below(
    drawing: EngineDrawing | None,
    spread: SpreadOfVisit | None,
    system: System,
    numbers: Mapping[str, tuple[str, str]],
    aside: Mapping[str, str],
) -> tuple[str, ...]:
    """Return the sentences below the drawing."""
    said = []
    if spread is not None:
        full = difference(spread.limit, system).removeprefix("+")
        said.append(f"Half full, at the two ticks: the median of the bank. Full or empty: {full} or more off it.")
        hidden = [
            f"{numbers[one.place][0]} {aside.get(one.key, WORDS[one.mark])}"
            for one in spread.cylinders
            if one.mark not in (Mark.VALID, Mark.NOT_READ) or one.key in aside
        ]
        if hidden:
            said.append(f"Dashed with a question mark, and not counted: {'; '.join(hidden)}.")
        if any(one.mark == Mark.NOT_READ and one.key not in aside for one in spread.cylinders):
            said.append("Dashed and empty: not read.")
    if drawing is None or not drawing.known:
        said.append("Layout not known: drawn in line, in the order of the numbers.")
    else:
        where = "Seen from above; " + ("banks as seen from the flywheel end; " if drawing.layout == "vee" else "")
        if drawing.operator_counts_from and drawing.operator_counts_from != drawing.first_at:
            said.append(
                f"{where}the builder counts from the {ENDS[drawing.first_at]}, the site from the "
                f"{ENDS[drawing.operator_counts_from]}: both numbers stand beside each port."
            )
        else:
            said.append(f"{where}counted from the {ENDS[drawing.first_at]}, as the builder does. Not to scale.")
    return tuple(said)


# ---------------------------------------------------------------------- against its own habit


def _habit(ports: tuple[Port, ...], spreads: Mapping[State, SpreadOfVisit], system: System) -> dict[str, Any] | None:
    """Return what `habit` is given, without width; None where no deviation can be had."""
    rows: dict[str, list[Kept]] = {}
    sentences = []
    for port in ports:
        one = _kept(port, spreads, system)
        rows.setdefault(port.bank, []).append(one)
        for state, said in port.states.items():
            if said.deviation:
                sentences.append(f"{port.builder} {STATE_WORDS[state]} {said.deviation}")
    if not sentences:
        return None
    limit = next(iter(spreads.values())).limit / unit(unit_words(DEVIATION, system)).factor
    return {
        "rows": tuple(Row(title=BANK_TITLES.get(bank, bank), cylinders=tuple(row)) for bank, row in rows.items()),
        "label": f"Deviation of each cylinder from the median of its bank: {'; '.join(sentences)}.",
        "unit_words": unit_words(DEVIATION, system),
        "band": Band(-limit, limit),
        "band_text": f"looked into beyond ±{limit:.0f}",
    }


def _kept(port: Port, spreads: Mapping[State, SpreadOfVisit], system: System) -> Kept:
    factor = unit(unit_words(DEVIATION, system)).factor
    marks, usual, odd, text, missing = [], None, False, "", ""
    for state, spread in spreads.items():
        one = spread.at(port.place)
        if one is None or not math.isfinite(one.deviation):
            missing = missing or (WORDS[one.mark] if one is not None else "not read")
            continue
        low, high = one.interval
        marks.append((MARKS[state], Shown(one.deviation / factor, low / factor, high / factor)))
        if usual is None and math.isfinite(one.residual):
            usual = (one.deviation - one.residual) / factor
        if told_odd(one) and not text:
            odd, text = True, short(one.deviation, system)
    return Kept(
        name=port.builder, other=port.operator, marks=tuple(marks), usual=usual, odd=odd, text=text, missing=missing
    )
