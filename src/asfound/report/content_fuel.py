"""What the fuel's page and the report show: what burns, whether it knocks, whether it drops liquid: plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.fuel.methane_number import UNDECIDED
from asfound.quantities.register import quantities
from asfound.quantities.words import Limit, Reading
from asfound.report.agreement import Lane
from asfound.report.axis import Band, Mark, Wall
from asfound.report.content_lanes import both_states, lanes_picture, mark_of, number_at
from asfound.report.gas_bars import Component, Part
from asfound.report.wording import day_words, in_units, say, sentence, title_of, unit_words

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.quantities.worked import Worked
    from asfound.records.visit import VisitView
    from asfound.report.content_lanes import Number
    from asfound.report.wording import System

BURNS = ("fuel_methane", "fuel_hydrogen", "fuel_carbon_monoxide")
HEAVIER = (
    "fuel_ethane", "fuel_propane", "fuel_isobutane", "fuel_butane", "fuel_isopentane", "fuel_pentane",
    "fuel_hexanes_plus",
)  # fmt: skip
INERT = ("fuel_nitrogen", "fuel_carbon_dioxide", "fuel_oxygen")
TRACES = ("fuel_hydrogen_sulfide",)
COMPONENTS = (*BURNS, *HEAVIER, *INERT, *TRACES)
PARTS = (
    ("Methane", ("fuel_methane",), "burns"),
    ("Heavier", HEAVIER, "heavier"),
    ("H2 and CO", ("fuel_hydrogen", "fuel_carbon_monoxide"), "other"),
    ("Burns not", INERT, "inert"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gas:
    """The analysis as a picture."""

    parts: tuple[Part, ...]
    components: tuple[Component, ...]
    label: str
    analysed: str
    """By whom and of which day, in the words of the record."""
    age: str
    """``67 days``; empty where it is not known."""
    total: str
    """Sum of the analysis with its interval."""
    then: str
    """Day of the visit before, whose analysis is the grey disc; empty where it is the same or none."""


def gas(view: VisitView, system: System) -> Gas | None:
    """Return what burns; None where there is no analysis."""
    now = _analysis(view.worked)
    if not now:
        return None
    before = _analysis(view.previous.worked) if view.previous else {}
    other = {name: one for name, one in before.items() if name not in now or one.value != now[name].value}
    names = [name for name in COMPONENTS if name in now or name in other]
    texts = _texts(now, system)
    components = tuple(_component(name, now, other, texts) for name in names)
    parts = tuple(
        Part(title, 100 * share, kind)
        for title, members, kind in PARTS
        if (share := sum(now[name].value for name in members if name in now)) > 0
    )
    total = number_at(view.worked, "as_found/fuel/fuel_analysis_sum")
    spoken = ", ".join(f"{_short(name)} {texts[name]}" for name in names if name in now)
    return Gas(
        parts=parts,
        components=components,
        label=f"What burns: {spoken}.",
        analysed=sentence(next(iter(now.values())).said_by.partition(" (doubt")[0]),
        age=_age(view.worked, system),
        total=_whole(total, system) if total is not None else "",
        then=day_words(view.previous.visit.date) if view.previous and other else "",
    )


def _analysis(worked: Worked) -> dict[str, Reading]:
    """Return the components read, by name."""
    return {
        one.quantity: one
        for one in worked.readings
        if one.quantity in COMPONENTS and one.place == "fuel" and one.state == "as_found" and one.value > 0
    }


def _short(name: str) -> str:
    return quantities()[name].title.removesuffix(" in the gas")


def _texts(now: Mapping[str, Reading], system: System) -> dict[str, str]:
    """Return the shares as they stand beside each other: those of one unit with the same decimals.

    As many as the one with the most has without its closing zeros, as far as its own interval reaches.
    """
    said = {name: say(one, system) for name, one in now.items()}
    decimals: dict[str, int] = {}
    for one in said.values():
        behind = one.value.partition(".")[2].rstrip("0")
        decimals[one.unit] = max(decimals.get(one.unit, 0), len(behind))
    return {
        name: f"{in_units(now[name].value, name, system):.{decimals[one.unit]}f} {one.unit}".strip()
        if sum(other.unit == one.unit for other in said.values()) > 1
        else one.whole
        for name, one in said.items()
    }


def _component(
    name: str, now: Mapping[str, Reading], before: Mapping[str, Reading], texts: Mapping[str, str]
) -> Component:
    marks: list[tuple[Any, Mark]] = []
    if name in before:
        marks.append(("before", _percent(before[name])))
    if name in now:
        marks.append(("found", _percent(now[name])))
    text = texts.get(name, "not found now")
    return Component(_short(name), text, tuple(marks))


def _percent(reading: Reading) -> Mark:
    u = 1.959964 * reading.standard_uncertainty
    value = reading.value
    return Mark(100 * value, 100 * max(value - u, 0.0), 100 * (value + u)) if u else Mark(100 * value)


def _age(worked: Worked, system: System) -> str:
    age = number_at(worked, "as_found/fuel/fuel_analysis_age")
    return say(age, system).whole if age is not None else ""


def _whole(number: Number, system: System) -> str:
    said = say(number, system)
    return said.whole + (f" ({said.interval})" if said.interval else "")


# ---------------------------------------------------------------------- methane number against what the build needs


@dataclass(frozen=True, slots=True, kw_only=True)
class Knock:
    """What the build needs of the methane number."""

    wall: Wall
    undecided: Band
    says: str


def knock(view: VisitView, system: System) -> Knock | None:
    """Return the wall of the methane number with the zone in which no method decides; None where it is not known."""
    needed = number_at(view.worked, "as_found/engine/required_methane_number")
    if needed is None:
        return None
    number = number_at(view.worked, "as_found/fuel/methane_number")
    value = in_units(needed.value, needed.quantity, system)
    return Knock(
        wall=Wall(value, f"build needs {say(needed, system).value}", "lower"),
        undecided=Band(value - UNDECIDED, value + UNDECIDED),
        says=_knock_says(view.worked, number, needed, system) if number is not None else "",
    )


def _knock_says(worked: Worked, number: Number, needed: Number, system: System) -> str:
    by = needed.said_by if isinstance(needed, Reading) else ""
    head = f"The build needs {say(needed, system).value}" + (f" ({by})." if by else ".")
    away = number.value - needed.value
    if abs(away) < UNDECIDED:
        return f"{head} Within {UNDECIDED:g} of it no method decides: ask the maker, and watch the knock."
    limit = Limit(quantity="methane_number", value=needed.value, as_typed="", side="lower", name="need of the build")
    below = worked.beyond(number, limit).says
    word = "over" if away > 0 else "under"
    return f"{head} The gas lies {abs(away):.0f} {word} it; {below} to be under, before the method's own {UNDECIDED:g}."


# ---------------------------------------------------------------------- does it drop liquid in the line


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """The gas in its line against the temperatures at which something drops out of it."""

    picture: dict[str, Any]
    says: tuple[str, ...]


def line(view: VisitView, system: System) -> Line | None:
    """Return the temperature in the line beside the dew points; None where either is not known."""
    worked = view.worked
    temperature = both_states(worked, "engine", "fuel_temperature")
    low = number_at(worked, "as_found/engine/fuel_hydrocarbon_dew_low")
    high = number_at(worked, "as_found/engine/fuel_hydrocarbon_dew_high")
    water = number_at(worked, "as_found/engine/fuel_water_dew_point")
    if not temperature or (high is None and water is None):
        return None
    made = lanes_picture("In the line", [("Gas in the line", temperature)], "fuel_temperature", system)
    lanes = list(made["rows"])
    spoken = made["label"]
    says = []
    if low is not None and high is not None:
        mark = _range(low, high, system)
        words = f"{say(low, system).value} to {say(high, system).whole}"
        lanes.append(Lane(f"Heavy hydrocarbons drop out below: {words}", (("found", mark),)))
        spoken += f" Heavy hydrocarbons drop out somewhere from {words} down."
        says.append(_drops(worked, next(iter(temperature.values())), high, "heavy hydrocarbons"))
    if water is not None:
        lanes.append(Lane(f"Water drops out below: {say(water, system).whole}", (("found", mark_of(water, system)),)))
        spoken += f" Water drops out below {_whole(water, system)}."
        says.append(_drops(worked, next(iter(temperature.values())), water, "water"))
    return Line(
        picture=made | {"rows": lanes, "label": spoken, "unit_words": unit_words("fuel_temperature", system)},
        says=tuple(says),
    )


def _range(low: Number, high: Number, system: System) -> Mark:
    """Return a range that is known by its ends as a mark in its middle."""
    a = mark_of(low, system).ends[0]
    b = mark_of(high, system).ends[1]
    return Mark((a + b) / 2, min(a, b), max(a, b))


def _drops(worked: Worked, temperature: Number, dew: Number, what: str) -> str:
    drops = worked.difference(temperature, dew).probability_lower
    if drops < 0.05:
        return f"The line is warmer than where {what} would drop out."
    if drops > 0.95:
        return f"The line is colder than where {what} drops out: look for liquid at drain and regulator."
    return f"Whether {what} drops out in the line is not sure ({100 * drops:.0f} in 100)."


def lacks_line(view: VisitView) -> str:
    """Return what the part on the line waits for."""
    numbers: tuple[Number, ...] = (*view.worked.readings, *view.worked.results)
    have = {one.quantity for one in numbers}
    wanted = ("fuel_methane", "fuel_pressure", "fuel_temperature", "fuel_water")
    return ", ".join(title_of(name).lower() for name in wanted if name not in have)
