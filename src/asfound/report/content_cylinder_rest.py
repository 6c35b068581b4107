"""What else the page of the cylinders can hold: wear, compression, ignition, crank speed; what would fill it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asfound.cylinders.engine_numbering import both_numbers
from asfound.quantities.register import quantities
from asfound.quantities.words import STATES
from asfound.report.content_lanes import number_at
from asfound.report.wording import natural, place_words, say, title_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from asfound.quantities.words import Finding, Reading, Result, State
    from asfound.records.visit import VisitView
    from asfound.report.wording import Said, System


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of the page that is there only when something of it was read."""

    name: str
    title: str
    names: tuple[str, ...]
    """Quantities, in their order."""
    fills: str
    """What would fill it, and how long that takes."""
    findings: tuple[str, ...] = ()
    """Codes of what is found there."""


PARTS = (
    Part(
        name="ignition",
        title="Ignition and plugs",
        names=(
            "ignition_demand", "ignition_demand_deviation", "ignition_demand_median", "ignition_voltage_available",
            "ignition_retard", "knock_level", "plug_gap", "plug_hours", "plug_gap_growth", "plug_hours_to_limit",
            "plug_required_voltage", "plug_voltage_at_limit",
        ),
        fills="ignition demand of each cylinder, or gap and hours of the plugs; about 12 minutes at the control",
    ),
    Part(
        name="compression",
        title="Compression and firing pressure",
        names=(
            "compression_pressure", "compression_deviation", "compression_median", "compression_expected",
            "compression_against_expected", "peak_firing_pressure", "peak_firing_deviation", "peak_firing_median",
        ),
        fills="compression pressure of every cylinder, engine isolated; about 10 minutes a cylinder",
    ),
    Part(
        name="valves",
        title="Valves",
        names=(
            "intake_valve_recession", "exhaust_valve_recession", "intake_recession_rate", "exhaust_recession_rate",
            "intake_hours_to_limit", "exhaust_hours_to_limit", "intake_valve_clearance", "exhaust_valve_clearance",
            "valve_hours",
        ),
        fills="clearance or recession of the valves with their hours, cold, engine isolated",
    ),
    Part(
        name="blow-by",
        title="Blow-by",
        names=("blow_by_share", "blow_by_flow", "blow_by_temperature"),
        fills="flow at the breather, 15 minutes with a meter that does not hold pressure",
    ),
    Part(
        name="crank",
        title="Crank speed",
        names=("cylinder_torque_deviation",),
        fills="crank speed tooth by tooth over some hundred cycles, from the pickup that is there; about 25 minutes",
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One number in both states."""

    title: str
    place: str
    where: str
    said: Mapping[State, Said]


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledPart:
    """A part with something in it."""

    part: Part
    lines: tuple[Line, ...]
    """Of the engine as a whole."""
    columns: tuple[str, ...]
    """Titles of what was read or worked out at the cylinders."""
    rows: tuple[tuple[str, tuple[Mapping[State, Said], ...]], ...]
    """Cylinder, and what stands in each column."""
    findings: tuple[Finding, ...]


def parts_of(view: VisitView, system: System) -> tuple[tuple[FilledPart, ...], tuple[Part, ...]]:
    """Return the parts with something in them, and those without."""
    filled, empty = [], []
    for part in PARTS:
        lines = tuple(_lines(view, part.names, system))
        if not lines:
            empty.append(part)
            continue
        about = set(part.names)
        found = tuple(
            one
            for one in view.findings
            if one.code.startswith("CY-2") and any(key.split("/")[-1] in about for key in one.because)
        )
        filled.append(_filled(view, part, lines, found))
    return tuple(filled), tuple(empty)


def _filled(view: VisitView, part: Part, lines: tuple[Line, ...], found: tuple[Finding, ...]) -> FilledPart:
    """Return a part with the numbers of its cylinders beside each other."""
    at_cylinders = [one for one in lines if one.place.startswith("cylinder_")]
    columns = tuple(dict.fromkeys(one.title for one in at_cylinders))
    both = {one.place: one.builder for one in both_numbers(view.engine.content)}
    cells = {(one.place, one.title): one.said for one in at_cylinders}
    places = sorted({one.place for one in at_cylinders}, key=natural)
    return FilledPart(
        part=part,
        lines=tuple(one for one in lines if one not in at_cylinders),
        columns=columns,
        rows=tuple(
            (both.get(place, place.removeprefix("cylinder_")), tuple(cells.get((place, one), {}) for one in columns))
            for place in places
        ),
        findings=found,
    )


def _lines(view: VisitView, names: Iterable[str], system: System) -> Iterable[Line]:
    known = quantities()
    numbers: tuple[Reading | Result, ...] = (*view.worked.readings, *view.worked.results)
    for name in names:
        if name not in known:
            continue
        places = sorted({one.place for one in numbers if one.quantity == name}, key=natural)
        for place in places:
            keys = {state: f"{state}/{place}/{name}" for state in STATES}
            found = {state: number for state, key in keys.items() if (number := number_at(view.worked, key))}
            if found:
                said = {state: say(number, system) for state, number in found.items()}
                yield Line(title=title_of(name), place=place, where=place_words(place), said=said)
